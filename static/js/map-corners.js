// Corners between the map and the form's text, a line a corner; an empty line parts rings.
self.corners = (() => {
  const short = (degrees) => String(Number(degrees.toFixed(9)));

  // Rings of [longitude, latitude] in a GeoJSON geometry, open.
  function rings(geometry) {
    const { type, coordinates } = geometry;
    if (type === "Point") return [[coordinates]];
    if (type === "LineString") return [coordinates];
    const polygons = type === "Polygon" ? [coordinates] : coordinates;
    return polygons.flat().map((ring) => ring.slice(0, -1));
  }

  function write(geometry, latitudeFirst) {
    const line = ([longitude, latitude]) =>
      (latitudeFirst ? [latitude, longitude] : [longitude, latitude]).map(short).join(", ");
    return rings(geometry).map((ring) => ring.map(line).join("\n")).join("\n\n");
  }

  // A point or a line from text as the site writes it: latitude first, decimal degrees.
  function lineOrPoint(text) {
    const found = text.split("\n").map((line) => line.split(",").map(Number).reverse());
    return found.length === 1
      ? { type: "Point", coordinates: found[0] }
      : { type: "LineString", coordinates: found };
  }

  return { write, lineOrPoint };
})();
