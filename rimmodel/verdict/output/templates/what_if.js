// The WHAT IF part of a review: sliders and numbers, curves and what would follow. It reads its own block of numbers,
// computes with what_if_mechanics.js, and writes into cells of its own (class "live"); it sends and stores nothing.
(() => {
  const at = name => document.getElementById(`what-if-${name}`);
  const data = JSON.parse(at("data").textContent);
  const CURVE = 121;
  let state;

  // ----------------------------------------------------------------------------------------- what is moved, and where to

  function reset() {
    state = { base: state ? state.base : 0, condition: state ? state.condition : data.condition, by_knee: false,
      moved: {}, conditions: {}, refused: {} };
    at("knee-condition").value = data.knee_condition;
  }

  const base = () => data.bases[state.base];
  const start_condition = name => data.conditions[name];
  const condition_of = name => ({ ...start_condition(name), ...state.conditions[name] });

  function start_of(name) {
    if (name === "interference_left") return interference_left(base().machine);
    if (name === "hoop_stiffness_factor") return base().machine.rim.hoop_stiffness_factor;
    if (name === "knee") {
      return float_speed_of(coefficients(base().machine, start_condition(at("knee-condition").value)),
        base().machine.highest_speed);
    }
    return start_condition(state.condition)[name];
  }

  const poles_follow = name => name === "pole_temperature" && start_condition(state.condition)[name] === null;

  function value_of(name) {
    const moved = data.controls[name].of_condition ? state.conditions[state.condition] : state.moved;
    if (moved && name in moved) return moved[name];
    return poles_follow(name) ? condition_of(state.condition).rim_temperature : start_of(name);
  }

  function move(name, value) {
    if (data.controls[name].of_condition) {
      state.conditions[state.condition] = { ...state.conditions[state.condition], [name]: value };
    } else {
      state.moved[name] = value;
      if (name === "knee" || name === "interference_left") state.by_knee = name === "knee";
    }
  }

  const is_moved = () => Object.keys(state.moved).length + Object.keys(state.conditions).length > 0 || state.by_knee;

  // The machine of WHAT IF, exactly that of the review until something is moved.
  function machine_now() {
    const from = base().machine, hoop = state.moved.hoop_stiffness_factor;
    const machine = hoop === undefined ? from : { ...from, rim: { ...from.rim, hoop_stiffness_factor: hoop } };
    const knee = value_of("knee");
    if (state.by_knee && Number.isFinite(knee)) { // a rim without a float speed starts with no knee either
      return with_interference_left(machine,
        needed_interference_left(machine, condition_of(at("knee-condition").value), knee));
    }
    return state.moved.interference_left === undefined ? machine
      : with_interference_left(machine, state.moved.interference_left);
  }

  // --------------------------------------------------------------------------------------------------- words and judging

  function number_text(row, value) {
    const shown = value / row.size;
    return row.decimals === null ? shown.toPrecision(4) : shown.toFixed(row.decimals);
  }

  function value_text(row, value) {
    if (Number.isNaN(value)) return "none: gap shut";
    if (row.quantity === "float_speed" && (value === 0 || value === Infinity)) {
      return value === 0 ? "at standstill" : "never by speed";
    }
    return Number.isFinite(value) ? number_text(row, value) : "none";
  }

  // The interval of the review, shifted by what the model changes. A float speed is shifted in speed squared, where a
  // tolerance of the interference is even, and scaled, as one of a stiffness is: each end takes the wider of both.
  function span_of(row, value, start) {
    if (!Number.isFinite(value) || !Number.isFinite(start)) return [-Infinity, Infinity];
    const shifted = (end, wider) => {
      if (end === null) return null;
      if (row.quantity !== "float_speed" || value === start) return end + (value - start);
      const in_squares = Math.sqrt(Math.max(0, value ** 2 + (Math.sign(end) * end ** 2 - start ** 2)));
      return start > 0 ? wider(in_squares, end * value / start) : in_squares;
    };
    const low = shifted(row.low, Math.min), high = shifted(row.high, Math.max);
    return [low === null ? -Infinity : low, high === null ? Infinity : high];
  }

  function would(row, [low, high]) {
    if (row.why) return row.why;
    const [worst, best, limit] = row.at_least ? [low, high, row.limit] : [-high, -low, -row.limit];
    if (worst >= limit) return "would be met";
    return best < limit ? "would not be met" : "would stay open";
  }

  function span_text(row, [low, high]) {
    if (!Number.isFinite(low) && !Number.isFinite(high)) return "not known";
    if (!Number.isFinite(high)) return `above ${number_text(row, low)} ${row.unit}`;
    if (!Number.isFinite(low)) return `below ${number_text(row, high)} ${row.unit}`;
    return `${number_text(row, low)} to ${number_text(row, high)} ${row.unit}`;
  }

  const of_row = (machine, condition, row) => quantity_values(machine, condition, row.speed)[row.quantity];

  // ------------------------------------------------------------------------------------------------------------- writing

  function write_controls(machine) {
    for (const [name, unit] of Object.entries(data.controls)) {
      const part = at(name), [slider, number] = part.querySelectorAll("input");
      let value = value_of(name);
      if (name === "interference_left" && state.by_knee) value = interference_left(machine);
      const shown = Number.isFinite(value) ? ((value - unit.zero) / unit.size).toFixed(unit.decimals) : "";
      if (document.activeElement !== slider) slider.value = shown;
      if (document.activeElement !== number) number.value = shown;
      part.querySelector(".note").textContent = note_of(name, unit, number);
    }
    at("by-knee").checked = state.by_knee;
    at("by-number").checked = !state.by_knee;
  }

  function note_of(name, unit, number) {
    const start = start_of(name), refused = state.refused[name];
    const was = poles_follow(name) ? "as the rim"
      : Number.isFinite(start) ? ((start - unit.zero) / unit.size).toFixed(unit.decimals) : "not determined";
    if (refused !== undefined) return `${refused} not applied: from ${number.min} to ${number.max}`;
    if (name === "interference_left" && state.by_knee) return `from the knee; review: ${was}`;
    if (name === "knee" && !state.by_knee) return `not in use; review: ${was}`;
    return `review: ${was}`;
  }

  function write_states(machine) {
    const from = base().machine, was = start_condition(state.condition), now = condition_of(state.condition);
    at("basis").textContent = `${base().label}, condition ${state.condition}`;
    const cells = at("states").tBodies[0].rows;
    data.rows.forEach((row, place) => {
      const value = of_row(machine, now, row), over = row.limit !== null && Number.isFinite(value)
        && (row.at_least ? value < row.limit : value > row.limit);
      cells[place].cells[1].textContent = value_text(row, of_row(from, was, row));
      cells[place].cells[2].textContent = value_text(row, value) + (over ? (row.at_least ? " (below)" : " (above)") : "");
    });
  }

  function write_findings(machine) {
    const cells = at("findings").tBodies[0].rows, count = {};
    base().findings.forEach((row, place) => {
      const value = of_row(machine, condition_of(row.condition), row);
      const start = of_row(base().machine, start_condition(row.condition), row);
      const followed = row.quantity in FOLLOWED && !row.why.startsWith("not followed");
      const span = followed ? span_of(row, value, start) : [-Infinity, Infinity], words = would(row, span);
      const shown = value_text(row, value), [, , , first, second, third] = cells[place].cells;
      first.textContent = followed ? shown + (Number.isFinite(value) && /\d/.test(shown) ? ` ${row.unit}` : "") : "";
      second.textContent = followed ? span_text(row, span) : "";
      third.textContent = words;
      const kind = words.startsWith("would") ? words : "not followed or in doubt";
      count[kind] = (count[kind] || 0) + 1;
    });
    return count;
  }

  const FOLLOWED = quantity_values(base_machine(), data.conditions[data.condition], 0);
  function base_machine() { return data.bases[0].machine; }

  let waiting = 0;
  function write_summary(machine, count) {
    const row = data.rows[0], lift = of_row(machine, condition_of(state.condition), row), shown = value_text(row, lift);
    const left = interference_left(machine) / 1e-3;
    const fit = Number.isFinite(left) ? `interference left ${left.toFixed(2)} mm` : "no interference makes that knee";
    const outside = outside_window(left), limits = outside ? ` ${outside}` : "";
    const judged = Object.entries(count).map(([words, number]) => `${number} ${words}`).join(", ");
    const text = `WHAT IF, not a verdict: ${base().label}, condition ${state.condition}, `
      + `${is_moved() ? "moved" : "nothing moved"}; ${fit}, float speed ${shown}${/\d/.test(shown) ? " rpm" : ""}.${limits} `
      + `Of ${base().findings.length} claims and requirements: ${judged || "none"}.`;
    clearTimeout(waiting); // a slider that is drawn along is not read out at every step
    waiting = setTimeout(() => { at("summary").textContent = text; }, 250);
  }

  // What the interference would break that no claim or requirement asks for: the limits that end the window.
  function outside_window(left) {
    const { words, exists, low, high, lost } = data.window, built = left * 1e-3 + lost, within = 1e-9;
    if (!exists) return `NO INTERFERENCE IS ADMISSIBLE: ${words} is closed.`;
    const below = low !== null && built < low - within, above = high !== null && built > high + within;
    if (!Number.isFinite(built) || !(below || above)) return "";
    const ends = low === null ? `up to ${(high * 1e3).toFixed(2)} mm` : high === null ? `from ${(low * 1e3).toFixed(2)} mm`
      : `${(low * 1e3).toFixed(2)} to ${(high * 1e3).toFixed(2)} mm`;
    const counted = lost ? ` as assembled, where this is ${(built * 1e3).toFixed(2)} mm` : "";
    return `OUTSIDE ${words} (${ends}${counted}).`;
  }

  // -------------------------------------------------------------------------------------------------------------- curves

  function draw(name, unit, quantity, states, level) {
    const svg = at(name), box = { left: 48, right: 392, top: 24, bottom: 214 };
    const highest = base().machine.highest_speed, shown = states.flatMap(one => one[quantity]).filter(Number.isFinite);
    if (level !== null) shown.push(level);
    if (quantity === "residual_interference") shown.push(0);
    const ticks = round_ticks(Math.min(...shown) / 1e-3, Math.max(...shown) / 1e-3);
    const x = speed => box.left + (box.right - box.left) * speed / highest;
    const y = value => box.bottom - (box.bottom - box.top) * (value / 1e-3 - ticks[0]) / (ticks[ticks.length - 1] - ticks[0]);
    const parts = [];
    const add = (tag, attributes, text) => {
      const part = document.createElementNS("http://www.w3.org/2000/svg", tag);
      for (const [key, value] of Object.entries(attributes)) part.setAttribute(key, value);
      if (text !== undefined) part.textContent = text;
      parts.push(part);
    };
    const line = (x1, y1, x2, y2, dash = "", width = 1, colour = "#4f4f4f") =>
      add("line", { x1, y1, x2, y2, stroke: colour, "stroke-width": width, "stroke-dasharray": dash });
    const words = (left, top, text, anchor = "start", more = {}) =>
      add("text", { x: left, y: top, "text-anchor": anchor, "font-size": 11, fill: "#1b1b1b", ...more }, text);
    for (const tick of ticks) {
      line(box.left, y(tick * 1e-3), box.right, y(tick * 1e-3), "", tick === 0 ? 1 : 0.5, tick === 0 ? "#1b1b1b" : "#c2c2c2");
      words(box.left - 5, y(tick * 1e-3) + 4, String(tick), "end");
    }
    line(box.left, box.top, box.left, box.bottom);
    line(box.left, box.bottom, box.right, box.bottom);
    for (const speed of Object.values(data.speeds)) {
      line(x(speed), box.top, x(speed), box.bottom, "1 3");
      words(x(speed), box.bottom + 14, String(Number((speed / data.rows[0].size).toFixed(1))), "middle");
    }
    words((box.left + box.right) / 2, box.bottom + 30, "speed, rpm", "middle");
    words(8, 15, unit);
    words(box.right, 15, "WHAT IF", "end", { "font-weight": "bold" });
    if (level !== null) line(box.left, y(level), box.right, y(level), "8 3 2 3", 1, "#1b1b1b");
    for (const [one, width, dash] of [[states[0], 1.2, "5 3"], [states[1], 2.4, ""]]) {
      let path = "", pen = "M";
      one.speed.forEach((speed, place) => {
        const value = one[quantity][place];
        if (!Number.isFinite(value)) { pen = "M"; return; }
        path += `${pen}${x(speed).toFixed(1)} ${y(value).toFixed(1)}`;
        pen = "L";
      });
      add("path", { d: path || "M0 0", fill: "none", stroke: "#1b1b1b", "stroke-width": width, "stroke-dasharray": dash });
      const value = contact(one.model, one.lift ** 2)[quantity === "air_gap" ? "air_gap" : quantity];
      if (one.lift > 0 && one.lift <= highest && Number.isFinite(value)) {
        add("circle", { cx: x(one.lift), cy: y(value), r: 4, fill: "#ffffff", stroke: "#1b1b1b", "stroke-width": width });
      }
    }
    svg.replaceChildren(...parts);
  }

  function round_ticks(low, high) {
    const rough = Math.max(high - low, 1e-3) / 5, ten = 10 ** Math.floor(Math.log10(rough));
    const step = ten * [1, 2, 2.5, 5, 10].find(times => times * ten >= rough * 0.999);
    const first = Math.floor(low / step), last = Math.max(Math.ceil(high / step), first + 1);
    return Array.from({ length: last - first + 1 }, (_, place) => Number(((first + place) * step).toPrecision(6)));
  }

  function swept(machine, condition) {
    const model = coefficients(machine, condition), lift = float_speed_of(model, machine.highest_speed);
    const speed = Array.from({ length: CURVE }, (_, place) => machine.highest_speed * place / (CURVE - 1));
    if (lift > 0 && lift < machine.highest_speed) speed.push(lift);
    speed.sort((one, other) => one - other);
    const states = speed.map(omega => contact(model, omega ** 2));
    return { model, lift, speed, air_gap: states.map(one => one.air_gap),
      residual_interference: states.map(one => one.residual_interference) };
  }

  function write() {
    const machine = machine_now();
    write_controls(machine);
    write_states(machine);
    write_summary(machine, write_findings(machine));
    const both = [swept(base().machine, start_condition(state.condition)), swept(machine, condition_of(state.condition))];
    draw("gap", "air gap, mm", "air_gap", both, data.minimum_allowed);
    draw("fit", "interference left, mm", "residual_interference", both, null);
  }

  // ---------------------------------------------------------------------------------------------------------- what is heard

  for (const [name, unit] of Object.entries(data.controls)) {
    const [slider, number] = at(name).querySelectorAll("input");
    for (const input of [slider, number]) input.addEventListener("input", () => {
      const wanted = input.value === "" ? NaN : Number(input.value);
      delete state.refused[name];
      if (wanted >= Number(input.min) && wanted <= Number(input.max)) {
        move(name, wanted * unit.size + unit.zero);
        if (input === slider) number.value = slider.value; else slider.value = number.value;
      } else if (input.value !== "" || input.validity.badInput) {
        state.refused[name] = input.value || "entry"; // stays beside the control when the number springs back
      }
      write();
    });
    number.addEventListener("blur", () => write()); // in place of an entry that does not apply
  }
  at("by-number").addEventListener("change", () => {
    const left = interference_left(machine_now()); // goes on from where the knee has brought it
    if (Number.isFinite(left)) state.moved.interference_left = left;
    state.by_knee = false;
    write();
  });
  at("by-knee").addEventListener("change", () => { state.by_knee = true; write(); });
  at("knee-condition").addEventListener("change", write);
  at("base").addEventListener("change", () => { state.base = Number(at("base").value); reset(); write(); });
  at("condition").addEventListener("change", () => {
    state.condition = at("condition").value; state.refused = {}; write();
  });
  at("reset").addEventListener("click", () => { reset(); document.activeElement.blur(); write(); at("reset").focus(); });

  document.querySelectorAll("#what-if .live").forEach(part => { part.hidden = false; });
  at("without").hidden = true;
  at("base").value = "0";
  at("condition").value = data.condition;
  reset();
  write();
})();
