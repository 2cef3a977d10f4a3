// Plays a board's programs over its picture. Data: cutjob/reports/sheet/play_data.py; 0.01 mm and ms.
(function () {
  "use strict";
  var STEP = 100, AIR = 0, CLOCKWISE = 2, WAIT = 4, KEPT = 12, SHADES = 6;

  // A program's numbers as arrays: ends and centres in mm, the time at each move's end in s.
  function unpack(program) {
    var list = program.moves, count = 0, at, kind;
    for (at = 0; at < list.length; at += kind === 2 || kind === 3 ? 7 : 5) { kind = list[at]; count++; }
    var run = {
      count: count, kind: new Uint8Array(count), end: new Float64Array(count),
      x: new Float32Array(count + 1), y: new Float32Array(count + 1), z: new Float32Array(count + 1),
      cx: new Float32Array(count), cy: new Float32Array(count), step: new Uint32Array(count)
    };
    var x = program.start[0], y = program.start[1], z = program.start[2], ms = 0, step = 0;
    run.x[0] = x / STEP; run.y[0] = y / STEP; run.z[0] = z / STEP;
    for (var i = 0, p = 0; i < count; i++) {
      kind = run.kind[i] = list[p];
      if (kind === 2 || kind === 3) { run.cx[i] = (x + list[p + 5]) / STEP; run.cy[i] = (y + list[p + 6]) / STEP; }
      x += list[p + 1]; y += list[p + 2]; z += list[p + 3]; ms += list[p + 4];
      p += kind === 2 || kind === 3 ? 7 : 5;
      run.x[i + 1] = x / STEP; run.y[i + 1] = y / STEP; run.z[i + 1] = z / STEP; run.end[i] = ms / 1000;
      while (step + 1 < program.steps.length && program.steps[step + 1][0] <= i) { step++; }
      run.step[i] = step;
    }
    run.seconds = ms / 1000;
    return run;
  }

  // The angle an arc turns through, with its sign; a circle when it ends where it began.
  function turn(run, i) {
    var from = Math.atan2(run.y[i] - run.cy[i], run.x[i] - run.cx[i]);
    var to = Math.atan2(run.y[i + 1] - run.cy[i], run.x[i + 1] - run.cx[i]), by = to - from;
    if (run.kind[i] === CLOCKWISE) { while (by >= -1e-6) { by -= 2 * Math.PI; } }
    else { while (by <= 1e-6) { by += 2 * Math.PI; } }
    return { from: from, by: by, radius: Math.hypot(run.x[i] - run.cx[i], run.y[i] - run.cy[i]) };
  }

  function placeAt(run, i, share) {
    var z = run.z[i] + (run.z[i + 1] - run.z[i]) * share;
    if (run.kind[i] === 2 || run.kind[i] === 3) {
      var arc = turn(run, i), angle = arc.from + arc.by * share;
      return { x: run.cx[i] + arc.radius * Math.cos(angle), y: run.cy[i] + arc.radius * Math.sin(angle), z: z };
    }
    return { x: run.x[i] + (run.x[i + 1] - run.x[i]) * share, y: run.y[i] + (run.y[i + 1] - run.y[i]) * share, z: z };
  }

  // The first move that has not ended at a time.
  function moveAt(run, seconds) {
    var low = 0, high = run.count;
    while (low < high) { var mid = (low + high) >> 1; if (run.end[mid] > seconds) { high = mid; } else { low = mid + 1; } }
    return low;
  }

  function clock(seconds) {
    var whole = Math.round(seconds), s = whole % 60;
    return Math.floor(whole / 60) + ":" + (s < 10 ? "0" : "") + s;
  }

  function setUp(box) {
    var source = document.getElementById(box.getAttribute("data-play"));
    var stage = box.querySelector(".s-stage"), scroll = stage.parentNode, controls = box.querySelector(".s-controls");
    var part = {};
    controls.querySelectorAll("[data-part]").forEach(function (one) { part[one.getAttribute("data-part")] = one; });
    var data = null, runs = [], now = 0, at = 0, playing = false, last = 0, drawn = 0, kept = [], before = null;
    var swath, top, under, over, scale = 1;

    function program() { return data.programs[now]; }
    function run() { return runs[now] || (runs[now] = unpack(program())); }

    function wake() {
      if (data) { return; }
      data = JSON.parse(source.textContent);
      swath = document.createElement("canvas"); top = document.createElement("canvas");
      swath.className = "s-swath";
      [swath, top].forEach(function (one) { one.setAttribute("aria-hidden", "true"); stage.appendChild(one); });
      under = swath.getContext("2d"); over = top.getContext("2d");
      size();
    }

    function size() {
      var fine = Math.min(window.devicePixelRatio || 1, 2), width = Math.max(1, Math.round(stage.clientWidth * fine));
      var height = Math.max(1, Math.round(stage.clientHeight * fine));
      if (swath.width === width && swath.height === height) { return; }
      swath.width = top.width = width; swath.height = top.height = height;
      scale = width / data.view.width;
      kept = []; before = null; forget();
    }

    function place(context) {
      context.setTransform(scale, 0, 0, -scale, data.view.left * scale, data.view.bottom * scale);
      context.lineCap = context.lineJoin = "round";
    }

    // Back to the board as it is when the file begins: with the cuts of the files before it.
    function forget() {
      drawn = 0;
      under.setTransform(1, 0, 0, 1, 0, 0); under.clearRect(0, 0, swath.width, swath.height);
      if (now > 0) { under.drawImage(cutBefore(), 0, 0); }
    }

    function cutBefore() {
      if (before) { return before; }
      before = document.createElement("canvas");
      before.width = swath.width; before.height = swath.height;
      var context = before.getContext("2d"), chosen = now;
      for (now = 0; now < chosen; now++) { stroke(context, 0, run().count, 1, true); }
      now = chosen;
      return before;
    }

    function cuts(i) {
      var it = run();
      return it.kind[i] !== AIR && it.kind[i] !== WAIT && (program().beam || Math.min(it.z[i], it.z[i + 1]) < -1e-3);
    }

    function diameter(i) { return program().cutters[program().steps[run().step[i]][3]].diameter / STEP; }

    // The shade of a cut's depth: 0 at the surface, SHADES - 1 through the stock.
    function shade(z) { return Math.max(0, Math.min(SHADES - 1, Math.floor(-z / (program().height / STEP) * SHADES - 1e-6))); }
    function colour(level) { return "hsl(" + (41 - 14 * level / (SHADES - 1)) + ",100%," + (58 - 30 * level / (SHADES - 1)) + "%)"; }

    // Adds a share of move i to a context's path; begins a new line where the path doesn't end at the move's start.
    function trace(context, i, share) {
      var it = run();
      if (it.kind[i] === 2 || it.kind[i] === 3) {
        var arc = turn(it, i);
        context.arc(it.cx[i], it.cy[i], arc.radius, arc.from, arc.from + arc.by * share, arc.by < 0);
      } else {
        var end = placeAt(it, i, share);
        context.lineTo(end.x, end.y);
      }
    }

    // Strokes moves from..to - 1 on a context, or only the cuts among them, with one stroke for each look.
    function stroke(context, from, to, share, cutsAlone) {
      var it = run(), look = "";
      place(context);
      for (var i = from; i < to; i++) {
        if (it.kind[i] === WAIT) { continue; }
        var cut = cuts(i);
        if (!cut && cutsAlone) {
          if (look) { context.stroke(); look = ""; }
          continue;
        }
        var level = program().beam ? SHADES - 1 : shade((it.z[i] + it.z[i + 1]) / 2);
        var wanted = cut ? "c" + level + "/" + diameter(i) : "air";
        if (wanted !== look) {
          if (look) { context.stroke(); }
          look = wanted;
          context.strokeStyle = cut ? colour(level) : "#555555";
          context.lineWidth = cut ? Math.max(diameter(i), 1.5 / scale) : 1.2 / scale;
          context.beginPath(); context.moveTo(it.x[i], it.y[i]);
        }
        trace(context, i, i === to - 1 ? share : 1);
      }
      if (look) { context.stroke(); }
    }

    function keep() {
      var every = Math.ceil(run().count / KEPT), slot = Math.floor(drawn / every);
      if (slot > 0 && !kept[slot] && drawn - slot * every < every / 2) {
        var copy = document.createElement("canvas");
        copy.width = swath.width; copy.height = swath.height;
        copy.getContext("2d").drawImage(swath, 0, 0);
        kept[slot] = { drawn: drawn, copy: copy };
      }
    }

    function recall(upTo) {
      for (var slot = kept.length - 1; slot > 0; slot--) {
        if (kept[slot] && kept[slot].drawn <= upTo) {
          under.setTransform(1, 0, 0, 1, 0, 0); under.clearRect(0, 0, swath.width, swath.height);
          under.drawImage(kept[slot].copy, 0, 0);
          drawn = kept[slot].drawn;
          return;
        }
      }
      forget();
    }

    function draw() {
      var it = run(), i = Math.min(moveAt(it, at), it.count), every = Math.ceil(it.count / KEPT);
      if (i < drawn) { recall(i); }
      while (drawn < i) {
        var to = Math.min(i, (Math.floor(drawn / every) + 1) * every);
        stroke(under, drawn, to, 1);
        drawn = to;
        keep();
      }
      over.setTransform(1, 0, 0, 1, 0, 0);
      over.clearRect(0, 0, top.width, top.height);
      var here, held = Math.max(0, Math.min(i, it.count - 1));
      if (i < it.count) {
        var begin = i ? it.end[i - 1] : 0, long = it.end[i] - begin, share = long > 0 ? (at - begin) / long : 1;
        over.globalAlpha = 0.6; stroke(over, i, i + 1, share); over.globalAlpha = 1;
        here = placeAt(it, i, share);
      } else { here = { x: it.x[it.count], y: it.y[it.count], z: it.z[it.count] }; }
      cutter(here, diameter(held));
      describe(held, here);
      follow(here);
    }

    function cutter(here, wide) {
      var radius = Math.max(wide / 2, 4 / scale);
      place(over);
      over.beginPath(); over.arc(here.x, here.y, radius, 0, 2 * Math.PI);
      over.fillStyle = here.z < 0 || program().beam ? "#0072b2" : "#ffffff"; over.fill();
      over.lineWidth = 2 / scale; over.strokeStyle = "#000000"; over.stroke();
    }

    function describe(i, here) {
      var step = program().steps[run().step[i]], words = [];
      part.time.textContent = clock(at) + " of " + clock(run().seconds);
      if (run().kind[i] === WAIT) { words.push("spindle or cutter change"); }
      else if (step) {
        words.push(step[1] ? "part " + step[1] : "screw or pin hole");
        words.push(program().operations[step[2]], program().cutters[step[3]].name);
        if (!program().beam) {
          var deep = data.unit === "in" ? (-here.z / 25.4).toFixed(2) + " in" : (-here.z).toFixed(1) + " mm";
          words.push(cuts(i) && here.z < 0 ? deep + " deep" : "in the air");
        }
      }
      part.doing.textContent = words.join(", ");
      part.at.value = at;
      part.at.setAttribute("aria-valuetext", part.time.textContent + ", " + part.doing.textContent);
    }

    function follow(here) {
      if (!playing || scroll.scrollWidth <= scroll.clientWidth) { return; }
      var x = (data.view.left + here.x) / data.view.width * stage.clientWidth;
      if (x < scroll.scrollLeft + 40 || x > scroll.scrollLeft + scroll.clientWidth - 40) { scroll.scrollLeft = x - scroll.clientWidth / 2; }
    }

    function go(seconds) { wake(); at = Math.max(0, Math.min(run().seconds, seconds)); draw(); }
    function stop() { playing = false; part.play.textContent = "Play"; }

    function frame(time) {
      if (!playing) { return; }
      var passed = last ? (time - last) / 1000 : 0;
      last = time;
      go(at + passed * Number(part.speed.value));
      if (at >= run().seconds) { stop(); } else { window.requestAnimationFrame(frame); }
    }

    function choose(number) {
      wake(); stop(); now = number; kept = []; before = null; forget();
      part.at.max = run().seconds;
      go(0);
    }

    part.play.addEventListener("click", function () {
      wake();
      if (playing) { stop(); return; }
      if (at >= run().seconds) { at = 0; }
      playing = true; last = 0; part.play.textContent = "Pause";
      window.requestAnimationFrame(frame);
    });
    part.at.addEventListener("input", function () { stop(); go(Number(part.at.value)); });
    part.back.addEventListener("click", function () {
      wake(); stop();
      var i = moveAt(run(), at), before = i > 0 ? run().end[i - 1] : 0;
      while (i > 0 && at - before < 1e-6) { i--; before = i > 0 ? run().end[i - 1] : 0; }
      go(before);
    });
    part.on.addEventListener("click", function () { wake(); stop(); var i = moveAt(run(), at); go(i < run().count ? run().end[i] : run().seconds); });
    if (part.file) { part.file.addEventListener("change", function () { choose(Number(part.file.value)); }); }
    if (window.ResizeObserver) { new ResizeObserver(function () { if (data) { size(); draw(); } }).observe(stage); }
    controls.hidden = false;
    // The controls' first display is read from the data only when the page has nothing else to do.
    (window.requestIdleCallback || window.setTimeout)(function () { if (!data) { choose(0); } });
  }

  // A link opens the section it leads to; the printer opens all sections.
  function openAt(place) {
    var section = place && document.getElementById(place.slice(1)), inside = section && section.querySelector("details");
    if (inside && section.className === "s-board") { inside.open = true; }
  }
  var closed = [];
  window.addEventListener("beforeprint", function () {
    closed = [].slice.call(document.querySelectorAll("details:not([open])"));
    closed.forEach(function (one) { one.open = true; });
  });
  window.addEventListener("afterprint", function () { closed.forEach(function (one) { one.open = false; }); });
  window.addEventListener("hashchange", function () { openAt(location.hash); });
  document.querySelectorAll("nav a").forEach(function (one) {
    one.addEventListener("click", function () { openAt(one.hash); });
  });
  openAt(location.hash);

  function setUpAll(within) { within.querySelectorAll("[data-play]").forEach(setUp); }
  // Boards that come to a page later are set up when they are named in an event.
  document.addEventListener("boards", function (event) { setUpAll(event.target); });
  setUpAll(document);
})();
