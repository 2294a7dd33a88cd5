// A farm's map: what lies there, and one thing that is drawn. The form's corners are the truth; the site reckons.
(() => {
  const tool = document.querySelector(".map-tool");
  if (!tool || !self.L) return;
  const data = JSON.parse(document.getElementById("map-data").textContent);
  const form = document.querySelector("form[data-corners]");
  const status = tool.querySelector(".map-said");
  const square = tool.querySelector(".map-square");
  const button = (act) => tool.querySelector(`[data-act=${act}]`);
  const point = () => L.divIcon({ className: "map-point", iconSize: [16, 16] });
  tool.hidden = false;

  // Handles are pulled, not pressed: who uses the keyboard changes the corners as text.
  L.Marker.mergeOptions({ keyboard: false });
  const map = L.map("map", { attributionControl: false, maxZoom: 21, zoomSnap: 0.5 });
  L.control.scale({ maxWidth: 150 }).addTo(map);
  if (data.tiles) L.tileLayer(data.tiles, { maxZoom: 21 }).addTo(map);
  else self.plainGround(map, data.middle[1], square);

  function named(name) {
    const told = document.createElement("span");
    told.textContent = name;
    return told;
  }

  const around = L.featureGroup();
  for (const one of data.around) {
    const { type } = one.geometry;
    const line = type === "LineString" ? " line" : "";
    const look = { className: `around ${one.what}${line}`, pmIgnore: true, snapIgnore: false };
    L.geoJSON(one.geometry, { ...look, pointToLayer: (_, at) => L.circleMarker(at, { ...look, radius: 6 }) })
      .bindTooltip(named(one.name), { permanent: true, direction: type === "Point" ? "top" : "center", className: "map-name" })
      .addTo(around);
  }
  around.addTo(map);

  function fit(layers) {
    const bounds = layers.getBounds();
    if (bounds.isValid()) map.fitBounds(bounds.pad(0.15), { animate: false, maxZoom: 18 });
    else map.setView([data.middle[1], data.middle[0]], data.placed ? 16 : 4, { animate: false });
  }
  if (!form) {
    fit(around);
    return;
  }

  // The form: its corners as text, in the order that it says.
  const text = form.elements.corners;
  const latitudeFirst = () => form.elements.order.value !== "longitude";
  const madeOf = () => (data.draws === "landmark" ? form.elements.made_of.value : data.draws);
  const isArea = () => ["outline", "area"].includes(madeOf());
  let drawn = null; // the layer
  let states = [null]; // geometries, oldest first
  let at = 0;
  let purpose = "draw";
  let asking = null;

  async function ask(fields) {
    asking?.abort();
    asking = new AbortController();
    const body = new URLSearchParams({ ...fields, csrfmiddlewaretoken: form.elements.csrfmiddlewaretoken.value });
    try {
      const answer = await fetch(tool.dataset.map, { method: "POST", body, signal: asking.signal });
      const json = answer.headers.get("content-type")?.startsWith("application/json");
      return json ? await answer.json() : { error: "The site does not answer. Reload the page; what is typed below stays yours." };
    } catch (error) {
      if (error.name === "AbortError") return null;
      return { error: "There is no signal. The drawing stays; its acres wait." };
    }
  }

  function say(answer) {
    if (!answer) return;
    status.classList.toggle("wrong", Boolean(answer.error));
    if (answer.error) status.textContent = answer.error;
    else if (answer.pieces)
      status.textContent = `Pieces from west to east: ${answer.pieces.map((acres) => acres.toFixed(2)).join(" and ")} acres.`;
    else if ("acres" in answer)
      status.textContent = [
        `${answer.acres.toFixed(2)} acres, ${answer.perimeter_ft.toLocaleString("en-US")} ft round.`,
        ...answer.said,
      ].join(" ");
    else status.textContent = answer.length_ft ? `${answer.length_ft.toLocaleString("en-US")} ft long.` : "";
  }

  async function reckon(geometry) {
    const corners = self.corners.write(geometry, true);
    if (data.draws === "line") say(await ask({ act: "divide", field: data.divides, corners }));
    else say(await ask({ act: isArea() ? "measure" : "read", corners }));
  }

  let waiting = 0;
  function soon(geometry) {
    clearTimeout(waiting);
    waiting = setTimeout(() => reckon(geometry), 150);
  }

  const geometry = () => drawn?.toGeoJSON(15).geometry ?? null;

  function show(shape, reshaping) {
    drawn?.remove();
    drawn = null;
    if (!shape) return;
    const look = { className: "drawn", pointToLayer: (_, where) => L.marker(where, { icon: point() }) };
    drawn = L.geoJSON(shape, look).getLayers()[0].addTo(map);
    drawn.on("pm:change", () => soon(geometry()));
    drawn.on("pm:edit", () => commit(geometry()));
    reshape(reshaping);
  }

  function reshape(on) {
    button("reshape").setAttribute("aria-pressed", String(on));
    if (on) drawn?.pm.enable();
    else drawn?.pm.disable();
  }

  const reshaping = () => button("reshape").getAttribute("aria-pressed") === "true";

  function fill(shape) {
    text.value = shape ? self.corners.write(shape, latitudeFirst()) : "";
    if (shape && data.draws === "landmark") {
      const made = { Point: "point", LineString: "line" }[shape.type] ?? "area";
      form.querySelector(`[name=made_of][value=${made}]`).checked = true;
    }
  }

  // One step further: what comes after an undo that was not redone is forgotten.
  function commit(shape, answer) {
    clearTimeout(waiting);
    states = [...states.slice(0, at + 1), shape];
    at = states.length - 1;
    settle(shape, answer);
  }

  function settle(shape, answer) {
    fill(shape);
    button("undo").disabled = at === 0;
    button("redo").disabled = at === states.length - 1;
    if (answer) say(answer);
    else if (shape) reckon(shape);
    else status.textContent = "";
  }

  function step(by) {
    if (!states.length || at + by < 0 || at + by >= states.length) return;
    at += by;
    show(states[at], reshaping());
    settle(states[at]);
  }

  // What was typed, brought to the map by the site, which reads every way of writing it.
  async function read(first) {
    if (!text.value.trim()) {
      show(null);
      if (!first) commit(null);
      return;
    }
    const order = latitudeFirst() ? "latitude" : "longitude";
    const answer = await ask({ act: isArea() ? "measure" : "read", corners: text.value, order });
    say(answer);
    if (!answer || answer.error) return;
    const shape = answer.geometry ?? self.corners.lineOrPoint(answer.corners);
    if (!answer.geometry && data.draws === "landmark" && (shape.type === "Point") !== (madeOf() === "point")) return;
    show(shape, reshaping());
    if (first) {
      states = [shape];
      fit(drawn.getBounds ? drawn : around);
      if (!drawn.getBounds) map.setView(drawn.getLatLng(), 17, { animate: false });
    } else {
      const typed = text.value;
      commit(shape, answer);
      text.value = typed;
      if (drawn.getBounds) fit(drawn);
    }
  }

  const beside = tool.querySelector("#beside");
  const neighbours = data.around.filter((one) => one.what === "field");
  if (beside && neighbours.length) {
    tool.querySelector(".map-beside").hidden = false;
    beside.append(...neighbours.map((one) => new Option(one.name, one.pk)));
  }

  async function take(fields) {
    if (!drawn) {
      say({ error: "Draw the outline first." });
      return;
    }
    const answer = await ask({ corners: self.corners.write(geometry(), true), ...fields });
    if (!answer || answer.error) {
      say(answer);
      return;
    }
    show(answer.geometry, reshaping());
    commit(answer.geometry, answer);
  }

  function draw(what) {
    purpose = what;
    if (what !== "draw" && !drawn) {
      say({ error: "Draw the outline first." });
      return;
    }
    reshape(false);
    const shape = { point: "Marker", line: "Line" }[madeOf()] ?? "Polygon";
    map.pm.enableDraw(shape, {
      continueDrawing: false,
      snappable: true,
      snapDistance: 14,
      markerStyle: { icon: point() },
      pathOptions: { className: "drawn" },
    });
  }

  map.on("pm:drawstart", ({ workingLayer }) => {
    workingLayer.on("pm:vertexadded", () => {
      if (purpose !== "draw") return;
      const coordinates = workingLayer.getLatLngs().map(({ lat, lng }) => [lng, lat]);
      if (isArea() && coordinates.length > 2)
        soon({ type: "Polygon", coordinates: [[...coordinates, coordinates[0]]] });
      else if (!isArea() && coordinates.length > 1) soon({ type: "LineString", coordinates });
    });
  });

  map.on("pm:create", ({ layer }) => {
    const shape = layer.toGeoJSON(15).geometry;
    layer.remove();
    map.pm.disableDraw();
    if (purpose === "draw") {
      show(shape, true);
      commit(shape);
    } else take({ act: purpose, other: self.corners.write(shape, true) });
  });

  const acts = {
    draw: () => draw("draw"),
    cut: () => draw("cut"),
    add: () => draw("add"),
    reshape: () => {
      map.pm.disableDraw();
      reshape(!reshaping());
    },
    undo: () => step(-1),
    redo: () => step(1),
    clear: () => {
      map.pm.disableDraw();
      show(null);
      commit(null);
    },
    draw_to: () => take({ act: "draw_to", field: beside.value, within_ft: tool.querySelector("#beside-ft").value }),
  };

  tool.addEventListener("click", (event) => {
    const pressed = event.target.closest("[data-act]");
    if (!pressed) return;
    const { act, madeOf: made } = pressed.dataset;
    if (made) form.querySelector(`[name=made_of][value=${made}]`).checked = true;
    acts[act]();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") map.pm.disableDraw();
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, textarea, select")) return;
    const redo = event.key === "y" || (event.key.toLowerCase() === "z" && event.shiftKey);
    if (redo || event.key === "z") {
      event.preventDefault();
      step(redo ? 1 : -1);
    }
  });
  text.addEventListener("change", () => read(false));
  for (const radio of form.querySelectorAll("[name=order]"))
    radio.addEventListener("change", () => (drawn ? fill(geometry()) : read(false)));

  fit(around);
  read(true);
})();
