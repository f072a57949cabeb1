// The run drives on its own page. Nothing is worked out here but where things are drawn: poses, times and what went
// wrong are given as JSON by fieldsim/pages/driving.py. Plain JavaScript, nothing from outside.
"use strict";
(function () {
  const box = document.getElementById("driving");
  const given = document.getElementById("driving-data");
  if (!box || !given || !box.hidden) return;
  const data = JSON.parse(given.textContent);
  const words = data.words;
  const tenths = new Intl.NumberFormat(document.documentElement.lang, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
  const said = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));

  // Where a way is at a head: nodes are [head, x, y, heading], headings go on beyond a whole turn.
  function poseAt(way, head) {
    let low = 0, high = way.length - 1;
    if (head >= way[high][0]) return way[high].slice(1);
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (way[middle][0] <= head) low = middle; else high = middle;
    }
    const a = way[low], b = way[high], wide = b[0] - a[0];
    const part = wide > 0 ? Math.max(0, (head - a[0]) / wide) : 1;
    return [1, 2, 3].map((k) => a[k] + part * (b[k] - a[k]));
  }

  function headAt(seconds) {
    const place = Math.max(0, seconds / data.step), n = Math.floor(place), last = data.heads.length - 1;
    if (n >= last) return data.heads[last];
    return data.heads[n] + (place - n) * (data.heads[n + 1] - data.heads[n]);
  }

  const make = (tag, inside, attributes) => {
    const found = document.createElement(tag);
    if (inside) found.textContent = inside;
    for (const [name, value] of Object.entries(attributes || {})) found.setAttribute(name, value);
    return found;
  };
  const canvas = make("canvas", "", { role: "img", "aria-label": words.picture });
  const play = make("button", words.play, { type: "button" });
  const time = make("input", "", { type: "range", min: 0, max: data.seconds, step: 0.05, value: 0, "aria-label": words.time });
  const now = make("output", "");
  const speed = make("select", "", { "aria-label": words.speed });
  for (const times of [0.5, 1, 2, 4, 8]) speed.append(make("option", times + "×", { value: times }));
  speed.value = "2";
  const show = make("select", "", { "aria-label": words.show });
  if (data.trials.length) show.append(make("option", words.all, { value: "all" }));
  show.append(make("option", words.plan, { value: "plan" }));
  data.causes.forEach((cause, n) => {
    show.append(make("option", said(words.cause, { what: cause.words, value: cause.many }), { value: n }));
  });
  const before = make("button", "‹", { type: "button", "aria-label": words.before, title: words.before });
  const after = make("button", "›", { type: "button", "aria-label": words.after, title: words.after });
  const which = make("span", "", { "aria-live": "polite" });
  const first = make("div", "", { class: "row" }), second = make("div", "", { class: "row" });
  first.append(play, time, speed);
  second.append(show, before, after, which);
  box.append(canvas, first, now, second);

  let seconds = 0, playing = false, last = 0, chosen = 0;
  const shown = () => {
    if (show.value === "all") return data.trials;
    if (show.value === "plan") return [];
    const some = data.trials.filter((each) => each.cause === Number(show.value));
    return some.length ? [some[((chosen % some.length) + some.length) % some.length]] : [];
  };

  function draw() {
    const wide = box.clientWidth, [w, d] = data.size, margin = 6;
    if (!wide) return;
    const scale = (wide - 2 * margin) / w, high = d * scale + 2 * margin, sharp = window.devicePixelRatio || 1;
    canvas.width = Math.round(wide * sharp);
    canvas.height = Math.round(high * sharp);
    canvas.style.height = high + "px";
    const pen = canvas.getContext("2d"), style = getComputedStyle(box);
    const colour = (name) => style.getPropertyValue(name).trim();
    // From here on in mm of the field, y up.
    pen.setTransform(sharp * scale, 0, 0, -sharp * scale, sharp * margin, sharp * (high - margin));
    const line = (pixels) => pixels / scale;
    const trace = (points, closed) => {
      pen.beginPath();
      points.forEach(([x, y], n) => (n ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (closed) pen.closePath();
    };
    pen.lineJoin = pen.lineCap = "round";
    pen.fillStyle = colour("--mat");
    pen.fillRect(0, 0, w, d);
    for (const solid of data.solids) {
      pen.globalAlpha = solid.met ? 1 : 0.35;
      pen.fillStyle = pen.strokeStyle = colour("--model");
      for (const core of solid.cores) {
        trace(core.points, true);
        pen.fill();
        pen.lineWidth = Math.max(2 * core.radius, line(1));
        pen.stroke();
      }
    }
    pen.globalAlpha = 1;
    pen.strokeStyle = colour("--rim");
    pen.lineWidth = line(4);
    pen.strokeRect(0, 0, w, d);
    pen.strokeStyle = colour("--target");
    pen.lineWidth = line(2);
    for (const target of data.targets) {
      pen.beginPath();
      pen.arc(target.at[0], target.at[1], Math.max(target.within, line(4)), 0, 2 * Math.PI);
      pen.stroke();
    }
    const head = headAt(seconds);
    const path = (way, end) => {
      const driven = way.filter((node) => node[0] <= end).map((node) => [node[1], node[2]]);
      driven.push(poseAt(way, end).slice(0, 2));
      trace(driven, false);
      pen.stroke();
    };
    const robot = (pose) => {
      const h = (pose[2] * Math.PI) / 180, c = Math.cos(h), s = Math.sin(h);
      for (const part of data.parts) {
        trace(part.map(([x, y]) => [pose[0] + c * x - s * y, pose[1] + s * x + c * y]), true);
        pen.fill();
        pen.stroke();
      }
    };
    const some = shown(), alone = some.length === 1;
    for (const trial of some) {
      const end = Math.min(head, trial.end), fails = trial.cause >= 0;
      pen.strokeStyle = pen.fillStyle = colour(fails ? "--bad" : "--trial");
      pen.lineWidth = line(alone ? 2 : 1);
      pen.globalAlpha = alone ? 1 : 0.35;
      path(trial.way, end);
      // Sixty robots over each other: their outlines, and hardly any of their ground.
      pen.fillStyle = alone ? pen.strokeStyle : "transparent";
      pen.globalAlpha = alone ? 0.35 : 0.3;
      robot(poseAt(trial.way, end));
    }
    pen.globalAlpha = 1;
    pen.strokeStyle = colour("--edge");
    pen.lineWidth = line(2.5);
    path(data.planned, head);
    pen.fillStyle = "transparent";
    robot(poseAt(data.planned, head));
    // Where a touch is: a cross in a ring of the ground's colour, over all robots.
    for (const trial of some) {
      if (!trial.at || head < trial.end) continue;
      const [x, y] = trial.at, r = line(5);
      for (const [name, thick] of [["--mat", 5], ["--bad", 2.5]]) {
        pen.strokeStyle = colour(name);
        pen.lineWidth = line(thick);
        for (const way of [1, -1]) trace([[x - r, y - way * r], [x + r, y + way * r]], false), pen.stroke();
      }
    }
    const segment = Math.min(Math.floor(head), data.segments.length - 1);
    now.textContent = said(words.now, { time: tenths.format(seconds), segment: data.segments[segment] });
    const stepped = Number(show.value) >= 0;
    before.hidden = after.hidden = !stepped;
    which.textContent = stepped && alone ? some[0].words : "";
  }

  function tick(at) {
    if (!playing) return;
    seconds += ((at - last) / 1000) * Number(speed.value);
    last = at;
    if (seconds >= data.seconds) {
      seconds = data.seconds;
      go(false);
    }
    time.value = seconds;
    draw();
    if (playing) requestAnimationFrame(tick);
  }

  function go(on) {
    playing = on;
    play.textContent = on ? words.pause : words.play;
    if (!on) return;
    if (seconds >= data.seconds) seconds = 0;
    requestAnimationFrame((at) => { last = at; tick(at); });
  }

  play.addEventListener("click", () => go(!playing));
  time.addEventListener("input", () => { go(false); seconds = Number(time.value); draw(); });
  // One that failed is shown where it did.
  const choose = (step) => {
    chosen = step === 0 ? 0 : chosen + step;
    const some = shown();
    if (Number(show.value) >= 0 && some.length) {
      go(false);
      let n = data.heads.findIndex((head) => head >= Math.min(some[0].end, data.causes[some[0].cause].segment));
      if (n < 0) n = data.heads.length - 1;
      seconds = Math.min(n * data.step, data.seconds);
      time.value = seconds;
    }
    draw();
  };
  show.addEventListener("change", () => choose(0));
  before.addEventListener("click", () => choose(-1));
  after.addEventListener("click", () => choose(1));
  window.addEventListener("resize", draw);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  box.hidden = false;
  box.closest("section").hidden = false;
  draw();
})();
