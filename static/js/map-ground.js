// The plain ground of a map: squares of a round number of feet, which ask nothing of anybody.
self.plainGround = (() => {
  const METRES_A_DEGREE = 111_320; // of latitude; squares are to judge by, not to measure with
  const METRES_A_FOOT = 0.3048;
  const FEET_A_MILE = 5280;
  const SQUARES_FT = [10, 20, 50, 100, 200, 500, 1000, 2640, 5280, 10560, 26400, 52800, 264000, 528000, 2640000];
  const LEAST_PIXELS = 64;

  function words(feet) {
    const metres = feet * METRES_A_FOOT;
    const imperial = feet < FEET_A_MILE / 2 ? `${feet.toLocaleString("en-US")} ft` : `${feet / FEET_A_MILE} mi`;
    return `${imperial} (${metres < 1000 ? `${Math.round(metres)} m` : `${(metres / 1000).toFixed(1)} km`})`;
  }

  function* between(low, high, step) {
    for (let at = Math.ceil(low / step) * step; at <= high; at += step) yield at;
  }

  // Lays squares under a map whenever it moves, and says in `said` how wide they are.
  return function lay(map, latitude, said) {
    map.createPane("squares").classList.add("map-squares");
    const lines = L.layerGroup().addTo(map);
    const look = { pane: "squares", interactive: false, pmIgnore: true, snapIgnore: true, className: "square" };
    const narrower = Math.cos((latitude * Math.PI) / 180);

    function draw() {
      const seen = map.getBounds();
      const wide = (seen.getEast() - seen.getWest()) * METRES_A_DEGREE * narrower;
      const metresAPixel = wide / map.getSize().x;
      const feet = SQUARES_FT.find((one) => (one * METRES_A_FOOT) / metresAPixel >= LEAST_PIXELS) ?? SQUARES_FT.at(-1);
      const up = (feet * METRES_A_FOOT) / METRES_A_DEGREE;
      lines.clearLayers();
      for (const at of between(seen.getSouth(), seen.getNorth(), up))
        L.polyline([[at, seen.getWest()], [at, seen.getEast()]], look).addTo(lines);
      for (const at of between(seen.getWest(), seen.getEast(), up / narrower))
        L.polyline([[seen.getSouth(), at], [seen.getNorth(), at]], look).addTo(lines);
      said.textContent = `Each square is about ${words(feet)} wide. North is up.`;
    }

    map.on("moveend resize", draw);
  };
})();
