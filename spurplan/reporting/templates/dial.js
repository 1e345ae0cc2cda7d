"use strict";
/* The turning dial. The data say where each route lies and where it is heard; nothing is graded here. */
(() => {
  const source = document.getElementById("dial-data");
  if (!source) return;
  const data = JSON.parse(source.textContent);
  const byId = (name) => document.getElementById(`dial-${name}`);
  const section = byId("section"), svg = byId("svg"), slider = byId("slider"), field = byId("field");
  const HEIGHT = 350, LEFT = 34, RIGHT = 10, TOP = 20, AIR = 158, FOOT = 206, BASE = 292, STRIP = 312;
  const LOUD = -10, QUIET = -130, S_PX = 5, MOST_LISTED = 12, WIDE_PART = 20, CLOSE_PX = 5, CHECK = data.words.indexOf("check"), DONT = data.words.indexOf("don't");
  const [S9, S9_HIGH, S_CHANGE, DB_PER_S] = data.s;

  // --- data -----------------------------------------------------------------------------------
  const summed = (steps) => { let at = 0; return steps.map((step) => (at += step)); };
  const who = data.occupants;
  who.low = summed(who.low);
  who.high = who.low.map((low, k) => low + who.width[k]);
  who.dbm = who.level.map((code) => who.levels[code]);
  for (const state of data.states)
    for (const range of state.ranges) {
      range.floor[0] = summed(range.floor[0]);
      range.tone[0] = summed(range.tone[0]);
      const s = range.stretches;
      s.low = summed(s.low);
      s.high = s.low.map((low, k) => low + s.width[k]);
      s.widest = s.width.reduce((most, width) => Math.max(most, width), 0);
      for (const line of range.lines) {
        line.gate[0] = summed(line.gate[0]);
        line.curves = new Map(line.curves.map(([level, hz, tenths]) => [level, [summed(hz), tenths]]));
      }
      range.words[0] = summed(range.words[0]);
    }

  function below(sorted, value) {
    // number of the last that is not above a value
    let low = 0, high = sorted.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (sorted[middle] <= value) low = middle + 1; else high = middle;
    }
    return low - 1;
  }
  function read([at, tenths], hz) {
    const k = below(at, hz);
    if (k < 0) return tenths[0] / 10;
    if (k >= at.length - 1) return tenths[at.length - 1] / 10;
    return (tenths[k] + ((tenths[k + 1] - tenths[k]) * (hz - at[k])) / (at[k + 1] - at[k])) / 10;
  }
  const centreOf = ([p, q, , d], hz) => (p * hz + q) / d;
  const nearestOf = (line, k, hz) => Math.min(Math.max(centreOf(line.pqrd, hz), who.low[k]), who.high[k]);
  function heard(line, k, hz) {
    const [, , r, d] = line.pqrd;
    const off = ((nearestOf(line, k, hz) - centreOf(line.pqrd, hz)) * 2 * d) / (Math.abs(r) * line.reach);
    const place = ((Math.max(-1, Math.min(1, off)) + 1) * (data.places.length - 1)) / 2;
    const low = Math.min(Math.floor(place), data.places.length - 2);
    const roll = line.roll[low] + (line.roll[low + 1] - line.roll[low]) * (place - low);
    return read(line.curves.get(who.dbm[k]), hz) - roll / 10;
  }
  function rowsAt(range, hz) {
    const s = range.stretches, rows = [];
    for (let n = below(s.low, hz); n >= 0 && s.low[n] + s.widest >= hz; n--) {
      if (s.high[n] < hz) continue;
      const line = range.lines[s.line[n]], k = s.who[n], [p, q, r, d] = line.pqrd;
      const middle = 2 * (p * hz + q), reach = Math.abs(r) * line.reach;
      rows.push({
        line, k, grade: s.grade[n], dbm: heard(line, k, hz),
        low: Math.max(Math.ceil((middle - reach) / (2 * d)), who.low[k]),
        high: Math.min(Math.floor((middle + reach) / (2 * d)), who.high[k]),
      });
    }
    return rows.sort((a, b) => b.dbm - a.dbm);
  }
  const wordAt = (range, hz) => range.words[1][Math.max(below(range.words[0], hz), 0)];

  // --- words ----------------------------------------------------------------------------------
  const plain = (hz) => String(+(hz / 1000).toFixed(3));
  const kHz = (hz) => {
    const [whole, part] = plain(hz).split(".");
    const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") : whole;
    return part ? `${grouped}.${part}` : grouped;
  };
  function sText(dbm, hz) {
    const over = dbm - (hz <= S_CHANGE ? S9 : S9_HIGH);
    return over >= 0.5 ? `S9+${Math.floor(over + 0.5)}` : `S${Math.max(0, Math.floor(9.5 + over / DB_PER_S))}`;
  }
  const sUnits = (dbm, hz) => Math.max((dbm - (hz <= S_CHANGE ? S9 : S9_HIGH)) / DB_PER_S + 9, 0);
  const label = (k) => who.labels[who.label[k]] || who.services[who.service[k]];
  function worked(range, line, k, hz) {
    let signal = Math.round(nearestOf(line, k, hz));
    return line.steps.map(([m, n], i) => {
      const [a, b, h] = range.osc[i], lo = (a * hz + b) / h;
      const out = m * lo + n * signal;
      const terms = [[m, lo], [n, signal]].filter(([factor]) => factor).sort((x, y) => (x[0] < 0) - (y[0] < 0));
      const text = terms.map(([factor, value], at) => {
        const sign = factor < 0 ? "\u2212 " : at ? "+ " : "";
        return sign + (Math.abs(factor) === 1 ? "" : `${Math.abs(factor)} \u00d7 `) + kHz(value);
      }).join(" ");
      signal = out;
      return `${text} = ${kHz(out)}`;
    }).join("; ") + " kHz";
  }
  function entries(range, rows, hz) {
    const groups = new Map();
    for (const row of rows) {
      const key = `${range.lines.indexOf(row.line)} ${who.service[row.k]}`;
      const group = groups.get(key) || { ...row, count: 0, named: row.k };
      group.count++;
      if (who.width[row.k] < who.width[group.named] && label(row.k)) group.named = row.k;
      groups.set(key, group);
    }
    return [...groups.values()];
  }
  function belongs(hz) {
    const here = [];
    for (let k = 0; k < who.low.length && who.low[k] <= hz; k++) if (who.high[k] >= hz) here.push(k);
    here.sort((a, b) => who.width[a] - who.width[b]);
    return [...new Set(here.map(label))].slice(0, 2).join("; ");
  }
  const SAID = {
    believe: (n) => n ? "Believe it: who is listed below comes in less than once in 100 times." : "Believe it: nothing else in the tables gets in.",
    unknown: () => "Unknown: the tables tell nothing of an image there.",
    deaf: () => "Too deaf: the wanted signal goes under in the noise.",
    check: (n) => `Check before you believe it: ${ways(n)} for what does not belong.`,
    "don\u2019t": (n) => `Don\u2019t believe it: ${ways(n)} for what does not belong.`,
    dead: () => "Not usable: that is an IF of the set.",
  };
  const ways = (n) => n === 1 ? "one way in" : n ? `${n} ways in` : "a way in, rarely loud,";
  function verdict(range, hz, listed) {
    const shows = range.off ? ` (the pointer shows ${kHz(hz + range.off)})` : "";
    const word = data.words[wordAt(range, hz)].replace("'", "\u2019");
    const who_ = belongs(hz);
    return `${kHz(hz)} kHz${shows}. ${SAID[word](listed)}${who_ ? ` Belongs here: ${who_}.` : ""}`;
  }

  // --- drawing --------------------------------------------------------------------------------
  function element(name, attributes, text) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const key in attributes) made.setAttribute(key, attributes[key]);
    if (text !== undefined) made.textContent = text;
    return made;
  }
  const still = element("g", {}), moving = element("g", {});
  svg.append(still, moving);
  let width = 0, cached = "", dial = 0, waiting = 0, timer = 0;
  const chosen = () => {
    const state = data.states[byId("state").selectedIndex] || data.states[0];
    return [state, state.ranges[byId("range").selectedIndex] || state.ranges[0]];
  };
  function viewOf(range, hz) {
    const away = centreOf(range.image, hz) - hz;
    if (byId("close").checked) {
      const beside = 0.7 * Math.abs(away);
      return [Math.min(hz, hz + away) - beside, Math.max(hz, hz + away) + beside];
    }
    const more = Math.sign(away) * Math.min(Math.abs(away), (range.high - range.low) / 5);
    return [range.low + Math.min(more, 0), range.high + Math.max(more, 0)];
  }
  const dbmY = (dbm) => AIR - ((Math.min(Math.max(dbm, QUIET), LOUD) - QUIET) / (LOUD - QUIET)) * (AIR - TOP);
  const sY = (units) => BASE - Math.min(units * S_PX, BASE - FOOT);

  function columns(count, low, high, each) {
    // the greatest of each column; `each` lays (first hertz, last hertz, value at a hertz)
    const top = new Float64Array(count).fill(-Infinity), per = (high - low) / count;
    each((from, to, value) => {
      const a = Math.max(Math.floor((from - low) / per), 0), b = Math.min(Math.floor((to - low) / per), count - 1);
      for (let x = a; x <= b; x++) {
        const v = value(Math.min(Math.max(low + (x + 0.5) * per, from), to));
        if (v > top[x]) top[x] = v;
      }
    });
    return top;
  }
  function skyline(top, y, base) {
    let path = "", open = false;
    for (let x = 0; x < top.length; x++) {
      const seen = top[x] > -Infinity;
      if (seen && !open) path += `M${LEFT + x} ${base}`;
      if (seen && (!open || top[x] !== top[x - 1])) path += `V${y(top[x]).toFixed(1)}`;
      if (seen) path += `H${LEFT + x + 1}`;
      if (!seen && open) path += `V${base}`;
      open = seen;
    }
    return open ? `${path}V${base}` : path;
  }
  function needed(range, hz, x) {
    const [ratios, dials, rows] = range.front;
    const k = Math.min(Math.max(below(dials, hz), 0), dials.length - 2);
    const part = (hz - dials[k]) / (dials[k + 1] - dials[k]);
    const ratio = Math.min(Math.max(x / hz, ratios[0]), ratios[ratios.length - 1]);
    const n = Math.min(Math.max(below(ratios, ratio), 0), ratios.length - 2);
    const beside = (ratio - ratios[n]) / (ratios[n + 1] - ratios[n]);
    const lost = (row) => row[n] + (row[n + 1] - row[n]) * beside;
    return read(range.tone, hz) + (lost(rows[k]) * (1 - part) + lost(rows[k + 1]) * part) / 10;
  }
  // a longer tick only where shorter ones fall on it: [short ticks a numeral, longer ones]
  const CUTS = { 1: [[10, 2], [5, 0], [2, 0]], 2: [[10, 2], [4, 2], [2, 0]], 5: [[10, 5], [5, 0]] };
  function ticksOf(low, high, pixels) {
    const per = pixels / (high - low);
    let step = 1000, lead = 1;
    for (let power = 1; step * per < 52; ) {
      lead = lead === 1 ? 2 : lead === 2 ? 5 : 1;
      if (lead === 1) power *= 10;
      step = lead * power * 1000;
    }
    const [short, longer] = CUTS[lead].find(([n]) => (step / n) * per >= 4.5) || [1, 0];
    const ticks = [];
    for (let n = Math.ceil((low * short) / step); (n * step) / short <= high; n++)
      ticks.push([(n * step) / short, n % short === 0 ? 2 : longer && (n * longer) % short === 0 ? 1 : 0]);
    return ticks;
  }
  function drawStill(state, range, view) {
    const inner = width - LEFT - RIGHT, [low, high] = view;
    const X = (hz) => LEFT + ((hz - low) / (high - low)) * inner;
    const made = [];
    made.push(element("text", { x: LEFT, y: 12, class: "small" }, "on the air, dBm at the aerial"));
    for (const dbm of [-20, -60, -100]) made.push(element("text", { x: LEFT - 4, y: dbmY(dbm) + 3, class: "small end" }, String(dbm).replace("-", "\u2212")));
    const dots = (a, b) => { if (b > a) made.push(element("rect", { x: X(a), y: TOP, width: X(b) - X(a), height: AIR - TOP, fill: "url(#dial-unknown)" })); };
    dots(low, Math.min(state.reach[0], high));
    dots(Math.max(state.reach[1], low), high);
    const air = columns(inner, low, high, (lay) => {
      for (let k = 0; k < who.low.length && who.low[k] <= high; k++)
        if (who.high[k] >= low) lay(who.low[k], who.high[k], () => who.dbm[k]);
    });
    made.push(element("path", { d: skyline(air, dbmY, AIR), class: "tint" }));
    made.push(element("path", { d: `M${LEFT} ${TOP}V${AIR}H${width - RIGHT}`, class: "fine" }));
    made.push(element("text", { x: width - RIGHT, y: FOOT - 3, class: "small end" }, "on the dial, what does not belong"));
    const s = range.stretches;
    const strangers = columns(inner, low, high, (lay) => {
      for (let n = 0; n < s.low.length && s.low[n] <= high; n++) {
        if (s.high[n] < low) continue;
        const line = range.lines[s.line[n]], k = s.who[n];
        lay(s.low[n], s.high[n], (hz) => sUnits(heard(line, k, hz), hz));
      }
    });
    made.push(element("path", { d: skyline(strangers, sY, BASE), class: "tint" }));
    for (const units of [3, 6, 9]) made.push(element("text", { x: LEFT - 4, y: sY(units) + 3, class: "small end" }, `S${units}`));
    const from = Math.max(low, range.low), to = Math.min(high, range.high);
    const level = (curve, more) => {
      // S9 is another level above the change: a step, no slope
      const step = [S_CHANGE, S_CHANGE + 1].filter((hz) => hz > from && hz < to);
      const places = [...Array.from({ length: 41 }, (_, k) => from + ((to - from) * k) / 40), ...step].sort((a, b) => a - b);
      return places.map((hz, k) => `${k ? "L" : "M"}${X(hz).toFixed(1)} ${sY(sUnits(read(curve, hz) + more, hz)).toFixed(1)}`).join("");
    };
    made.push(element("path", { d: level(range.floor, 0), class: "noise" }));
    for (const over of [data.audible, data.strong]) made.push(element("path", { d: level(range.tone, over), class: "tone" }));
    const cells = new Int8Array(inner).fill(-1), [starts, words] = range.words;
    for (let n = 0; n < starts.length; n++) {
      const last = n + 1 < starts.length ? starts[n + 1] - 1 : range.high;
      const a = Math.max(Math.floor(X(starts[n]) - LEFT), 0), b = Math.min(Math.floor(X(last) - LEFT), inner - 1);
      for (let x = a; x <= b; x++) if (words[n] > cells[x]) cells[x] = words[n];
    }
    // channels spoilt by turns: hatching too narrow to be read is the closer one on either side
    for (let x = 1, start = 0; x < inner; x++)
      if (cells[x] !== cells[start]) {
        if (start && cells[start] === CHECK && cells[x] === DONT && cells[start - 1] === DONT && x - start < CLOSE_PX)
          cells.fill(DONT, start, x);
        start = x;
      }
    for (let x = 0, start = 0; x <= inner; x++)
      if (x === inner || cells[x] !== cells[start]) {
        const word = data.words[cells[start]];
        if (word) made.push(element("rect", { x: LEFT + start, y: BASE, width: x - start, height: STRIP - BASE, class: "fill", "data-word": word, fill: `url(#dial-${word.replace("'", "")})` }));
        start = x;
      }
    made.push(element("rect", { x: X(from), y: BASE, width: X(to) - X(from), height: STRIP - BASE, class: "frame" }));
    const unit = range.high < 3e6 ? ["kHz", 1e3] : ["MHz", 1e6];
    made.push(element("text", { x: width - RIGHT, y: STRIP + 26, class: "end" }, unit[0]));
    for (const [shown, kind] of ticksOf(from + range.off, to + range.off, X(to) - X(from))) {
      const x = X(shown - range.off);
      made.push(element("path", { d: `M${x.toFixed(1)} ${STRIP}v${[4, 7, 10][kind]}`, class: "tick", "data-hz": shown }));
      if (kind === 2 && x < width - RIGHT - 44)
        made.push(element("text", { x: Math.max(x, LEFT + 8), y: STRIP + 26, class: "middle" }, String(+(shown / unit[1]).toFixed(6))));
    }
    still.replaceChildren(...made);
  }
  function drawMoving(range, view, listed) {
    const inner = width - LEFT - RIGHT, [low, high] = view, made = [];
    const X = (hz) => LEFT + ((hz - low) / (high - low)) * inner;
    const inside = (hz) => hz >= low && hz <= high;
    let path = "";
    for (let x = 0; x <= inner; x += 3) path += `${x ? "L" : "M"}${LEFT + x} ${dbmY(needed(range, dial, low + ((high - low) * x) / inner)).toFixed(1)}`;
    made.push(element("path", { d: path, class: "need" }));
    const at = X(dial);
    made.push(element("path", { d: `M${at.toFixed(1)} ${AIR}V${STRIP + 12}`, class: "pointer" }));
    for (const line of range.lines) {
      const hz = centreOf(line.pqrd, dial);
      if (dial < line.gate[0][0] || dial > line.gate[0][line.gate[0].length - 1] || !inside(hz)) continue;
      made.push(element("path", { d: `M${X(hz) - 8} ${dbmY(read(line.gate, dial))}h16`, class: "bar" }));
    }
    const names = [["dial", dial]];
    for (const row of listed) {
      const hz = nearestOf(row.line, row.k, dial);
      if (!inside(hz)) continue;
      made.push(element("path", { d: `M${X(hz).toFixed(1)} ${AIR}V${dbmY(who.dbm[row.k]).toFixed(1)}`, class: "comes" }));
      made.push(element("path", { d: `M${X(hz).toFixed(1)} ${AIR}L${at.toFixed(1)} ${FOOT + 40}`, class: "tie" }));
      names.push([row.line.name, centreOf(row.line.pqrd, dial)]);
    }
    names.push(["image", centreOf(range.image, dial)]);
    range.osc.forEach(([a, b, h], i) => names.push([range.osc.length > 1 ? `oscillator ${i + 1}` : "oscillator", (a * dial + b) / h]));
    const rows = [[], [], []], done = new Set();
    for (const [text, hz] of names) {
      if (!inside(hz) || hz <= 0 || done.has(text)) continue;
      done.add(text);
      const x = X(hz), half = text.length * 3.3 + 2;
      const centre = Math.min(Math.max(x, LEFT + half), width - RIGHT - half);
      const row = rows.findIndex((taken) => taken.every(([a, b]) => centre + half < a || centre - half > b));
      made.push(element("path", { d: `M${x.toFixed(1)} ${AIR}v4`, class: "tick" }));
      if (row < 0) continue;
      rows[row].push([centre - half, centre + half]);
      made.push(element("text", { x: centre, y: AIR + 14 + 11 * row, class: "name middle" }, text));
    }
    moving.replaceChildren(...made);
    const knob = 22, left = X(range.low) - knob / 2, right = X(range.high) + knob / 2;
    const whole = !byId("close").checked;
    slider.style.marginLeft = whole ? `${left}px` : `${LEFT - knob / 2}px`;
    slider.style.width = whole ? `${right - left}px` : `${inner + knob}px`;
  }
  function draw() {
    waiting = 0;
    const [state, range] = chosen(), view = viewOf(range, dial);
    const box = Math.round(svg.getBoundingClientRect().width);
    if (!box) return;
    const key = [byId("state").selectedIndex, byId("range").selectedIndex, ...view, box].join();
    if (box !== width) { width = box; svg.setAttribute("viewBox", `0 0 ${width} ${HEIGHT}`); }
    const listed = entries(range, rowsAt(range, dial), dial);
    if (key !== cached) { drawStill(state, range, view); cached = key; }
    drawMoving(range, view, listed);
    const text = verdict(range, dial, listed.length);
    byId("verdict").textContent = text;
    byId("list").replaceChildren(...listed.slice(0, MOST_LISTED).map((row) => {
      const item = document.createElement("li"), name = document.createElement(row.grade === 2 ? "strong" : "span");
      name.textContent = `${sText(row.dbm, dial)} ${label(row.named)}`;
      const more = row.count > 1 ? ` (and ${row.count - 1} more ${row.count === 2 ? "entry" : "entries"})` : "";
      const equation = row.line.eq.replace(/ - /g, " \u2212 ").replace(/= - /g, "= \u2212 ");
      item.append(name, `${more}, really on ${kHz(Math.round(nearestOf(row.line, row.k, dial)))} kHz: ${row.line.name}, ${equation}; ${worked(range, row.line, row.k, dial)}`);
      return item;
    }));
    slider.setAttribute("aria-valuetext", `${plain(dial)} kHz. ${text.slice(text.indexOf(". ") + 2)}`);
    svg.setAttribute("aria-label", text);
    for (const [name, way] of [["below", -1], ["above", 1]])
      byId(name).setAttribute("aria-disabled", String(stopFrom(range, way) === undefined));
    clearTimeout(timer);
    timer = setTimeout(() => { byId("status").textContent = text; }, 700);
  }
  const soon = () => { if (!waiting) waiting = requestAnimationFrame(draw); };
  function turnTo(hz, from) {
    const [, range] = chosen();
    dial = Math.min(Math.max(Math.round(hz), range.low), range.high);
    if (from !== slider) slider.value = dial;
    if (from !== field) field.value = plain(dial);
    soon();
  }
  function rangeChosen(hz) {
    const [, range] = chosen();
    slider.min = range.low; slider.max = range.high; slider.step = range.high < 3e6 ? 100 : 1000;
    field.min = plain(range.low); field.max = plain(range.high);
    turnTo(hz === undefined ? (range.low + range.high) / 2 : hz);
  }
  function stopsOf(range) {
    // where the patches are looked at: their middles, and of a wide one its ends too
    if (range.stops) return range.stops;
    const [starts, words] = range.words, merged = [];
    starts.forEach((low, n) => {
      if (words[n] < CHECK) return;
      const high = n + 1 < starts.length ? starts[n + 1] - 1 : range.high, last = merged[merged.length - 1];
      if (last && last[2] === words[n] && last[1] + 1 === low) last[1] = high; else merged.push([low, high, words[n]]);
    });
    const wide = (range.high - range.low) / WIDE_PART;
    range.stops = merged.flatMap(([low, high]) => {
      const middle = Math.round((low + high) / 2);
      return high - low < wide ? [middle] : [low, middle, high];
    });
    return range.stops;
  }
  function stopFrom(range, way) {
    const stops = stopsOf(range);
    return way > 0 ? stops.find((hz) => hz > dial) : stops.findLast((hz) => hz < dial);
  }
  function patch(way) {
    const hz = stopFrom(chosen()[1], way);
    if (hz !== undefined) turnTo(hz);
  }

  for (const state of data.states) byId("state").append(new Option(state.name));
  byId("state").parentElement.hidden = data.states.length < 2;
  for (const range of data.states[0].ranges) {
    const unit = range.high < 3e6 ? ["kHz", 1e3] : ["MHz", 1e6];
    byId("range").append(new Option(`${range.name}: ${range.low / unit[1]}\u2013${range.high / unit[1]} ${unit[0]}`));
  }
  byId("range").addEventListener("change", () => rangeChosen());
  byId("state").addEventListener("change", () => rangeChosen(dial));
  byId("close").addEventListener("change", soon);
  slider.addEventListener("input", () => turnTo(+slider.value, slider));
  field.addEventListener("input", () => {
    const [, range] = chosen(), hz = Math.round(field.valueAsNumber * 1000);
    if (hz >= range.low && hz <= range.high) turnTo(hz, field);
  });
  field.addEventListener("change", () => turnTo(Number.isFinite(field.valueAsNumber) ? field.valueAsNumber * 1000 : dial));
  byId("below").addEventListener("click", () => patch(-1));
  byId("above").addEventListener("click", () => patch(1));
  addEventListener("resize", soon);
  section.hidden = false;
  for (const link of document.querySelectorAll("a[data-turns]")) link.hidden = false;
  section.rowsAt = (state, range, hz) => rowsAt(data.states[state].ranges[range], hz).map((row) => ({
    rf_low_hz: row.low, rf_high_hz: row.high, grade: ["buried", "audible", "strong"][row.grade],
    equation: row.line.eq, label: who.labels[who.label[row.k]], heard_dbm: row.dbm, heard_s: sText(row.dbm, hz),
  }));
  section.turnTo = turnTo;
  section.ticksOf = ticksOf;
  rangeChosen();
})();
