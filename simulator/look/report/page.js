"use strict";
(function () {
  const root = document.documentElement;
  const system = () => root.dataset.units;
  const either = (si, us) => (system() === "SI" ? si : us);

  for (const choice of document.querySelectorAll('input[name="units"]')) {
    choice.addEventListener("change", () => {
      root.dataset.units = choice.value;
      for (const option of document.querySelectorAll("#station option")) {
        option.textContent = either(option.dataset.si, option.dataset.us);
      }
      readAgain();
    });
  }
  // A link to a dataset opens the list it stands in.
  const reveal = () => {
    const target = location.hash && document.getElementById(location.hash.slice(1));
    const fold = target && target.closest("details");
    if (fold) { fold.open = true; target.scrollIntoView(); }
  };
  addEventListener("hashchange", reveal);
  // Paper cannot be unfolded.
  let folded = [];
  addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details:not([open])")];
    for (const fold of folded) { fold.open = true; }
  });
  addEventListener("afterprint", () => { for (const fold of folded) { fold.open = false; } });

  let readAgain = () => {};
  const held = document.getElementById("data");
  if (!held) { reveal(); return; }
  const data = JSON.parse(held.textContent);
  const slider = document.getElementById("moment");
  const cut = document.getElementById("station");
  const play = document.getElementById("play");
  const pictures = { section: document.getElementById("section-picture"), plan: document.getElementById("plan-picture") };
  const canvases = {};
  let running = 0;

  function show() {
    const frame = Number(slider.value);
    const station = Number(cut.value);
    pictures.section.setAttribute("href", data.section[station][frame]);
    pictures.plan.setAttribute("href", data.plan[frame]);
    document.getElementById("moment-text").textContent = data.moments[frame];
    slider.setAttribute("aria-valuetext", data.moments[frame]);
    for (const place of document.querySelectorAll("[data-reading]")) {
      const name = place.dataset.reading;
      const [value, si, us] = data.readings[name][frame];
      place.dataset.value = value === null ? "" : value;
      place.dataset.at = data.seconds[frame];
      place.title = name + ", " + data.moments[frame];
      place.replaceChildren(part("si", si), part("us", us));
    }
    for (const group of document.querySelectorAll(".ducts")) {
      const number = Number(group.dataset.station);
      group.classList.toggle("hidden", number !== station);
      [...group.querySelectorAll("circle")].forEach((circle, duct) => {
        circle.setAttribute("fill", data.ducts[number][duct][frame]);
        const warmth = data.ductWarmth[number][duct][frame];
        circle.querySelector("title").textContent = warmth[0] + " (" + warmth[1] + ")";
      });
    }
    readAgain();
  }

  function part(name, text) {
    const made = document.createElement("span");
    made.className = name;
    made.textContent = text;
    return made;
  }

  slider.addEventListener("input", show);
  cut.addEventListener("change", show);
  play.addEventListener("click", () => {
    if (running) { stop(); return; }
    play.setAttribute("aria-pressed", "true");
    play.textContent = "Stop";
    if (Number(slider.value) === Number(slider.max)) { slider.value = 0; }
    running = setInterval(() => {
      slider.value = Number(slider.value) + 1;
      show();
      if (Number(slider.value) >= Number(slider.max)) { stop(); }
    }, 350);
  });
  function stop() {
    clearInterval(running);
    running = 0;
    play.setAttribute("aria-pressed", "false");
    play.textContent = "Play";
  }

  // Reading a map: the colour of a point, looked up in the scale.
  const entries = new Map(data.palette.map(([red, green, blue], entry) => [(red << 16) | (green << 8) | blue, entry]));
  const points = {};
  function temperature(name, x, y, done) {
    const address = pictures[name].getAttribute("href");
    const look = (canvas) => {
      const column = Math.min(Math.floor(x * canvas.width), canvas.width - 1);
      const row = Math.min(Math.floor(y * canvas.height), canvas.height - 1);
      const [red, green, blue] = canvas.getContext("2d").getImageData(column, row, 1, 1).data;
      const entry = entries.get((red << 16) | (green << 8) | blue);
      const [low, high] = data.range[name];
      if (entry === undefined) { done(null, ""); return; }
      const last = data.palette.length - 1;
      done(low + (entry / last) * (high - low), entry === 0 ? " or less" : entry === last ? " or more" : "");
    };
    const known = canvases[name];
    if (known && known.address === address) { look(known.canvas); return; }
    const image = new Image();
    image.onload = () => {
      const canvas = document.createElement("canvas");
      canvas.width = image.width;
      canvas.height = image.height;
      canvas.getContext("2d", { willReadFrequently: true }).drawImage(image, 0, 0);
      canvases[name] = { address, canvas };
      look(canvas);
    };
    image.src = address;
  }
  function read(name) {
    const point = points[name];
    if (!point) { return; }
    const svg = document.getElementById(name + "-map");
    const cross = svg.querySelector(".cross");
    const [left, top, wide, tall] = cross.dataset.box.split(" ").map(Number);
    cross.classList.remove("hidden");
    for (const ring of cross.children) {
      ring.setAttribute("cx", left + point.x * wide);
      ring.setAttribute("cy", top + point.y * tall);
    }
    temperature(name, point.x, point.y, (celsius, beyond) => {
      document.getElementById(name + "-map-reading").textContent = celsius === null
        ? "There is no ground at this place."
        : "At the ring: about " + either(celsius.toFixed(1) + " °C", (celsius * 1.8 + 32).toFixed(1) + " °F") + beyond + ".";
    });
  }
  readAgain = () => { read("section"); read("plan"); };
  for (const name of ["section", "plan"]) {
    const svg = document.getElementById(name + "-map");
    const take = (event) => {
      const box = pictures[name].getBoundingClientRect();
      const x = (event.clientX - box.left) / box.width;
      const y = (event.clientY - box.top) / box.height;
      if (x >= 0 && x < 1 && y >= 0 && y < 1) { points[name] = { x, y }; read(name); }
    };
    svg.addEventListener("pointermove", take);
    svg.addEventListener("pointerdown", take);
    svg.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!step) { return; }
      event.preventDefault();
      const point = points[name] || { x: 0.5, y: 0.5 };
      const within = (value) => Math.min(Math.max(value, 0), 0.999);
      points[name] = { x: within(point.x + 0.02 * step[0]), y: within(point.y + 0.04 * step[1]) };
      read(name);
    });
  }
  show();
  reveal();
})();
