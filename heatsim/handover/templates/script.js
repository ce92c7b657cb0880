"use strict";
(() => {
  const numbers = JSON.parse(document.getElementById("numbers").textContent);
  const day = document.getElementById("day"), reading = document.getElementById("reading");
  const which = document.getElementById("which"), charts = [...day.querySelectorAll(".chart")];
  let shown = 0, hour = -1;

  const written = (watts) => numbers.units.map(([unit, factor, digits]) => {
    const value = watts * factor;
    if (digits >= 0) return value.toFixed(digits) + " " + unit;
    const round = 10 ** -digits;
    return (Math.round(value / round) * round).toLocaleString("en-US") + " " + unit;
  });

  const element = (name, text, parent, kind) => {
    const made = document.createElement(name);
    made.textContent = text;
    if (kind) made.className = kind;
    parent.append(made);
    return made;
  };

  const tell = () => {
    const one = numbers.days[shown], table = document.createElement("table");
    const next = (Number(one.hours[hour].slice(0, 2)) + 1) % 24;
    element("caption", one.title + ", " + one.hours[hour] + "–" + String(next).padStart(2, "0") + ":00", table);
    const body = table.createTBody();
    const row = (label, watts, kind) => {
      const line = body.insertRow();
      if (kind) line.className = kind;
      element("td", label, line);
      for (const text of written(watts)) element("td", text, line, "n");
    };
    for (const [label, values] of [...one.layers].reverse()) row(label, values[hour]);
    row("load", one.total[hour], "sum");
    reading.replaceChildren(table);
    const svg = charts[shown].querySelector("svg"), mark = svg.querySelector(".hour");
    const [left, top, right, bottom] = svg.dataset.box.split(" ").map(Number);
    const wide = (right - left) / one.hours.length;
    mark.removeAttribute("hidden");
    for (const [name, value] of [["x", left + wide * hour], ["y", top], ["width", wide], ["height", bottom - top]]) mark.setAttribute(name, value);
  };

  const show = (index) => {
    shown = index;
    charts.forEach((chart, i) => { chart.hidden = i !== index; });
    const total = numbers.days[index].total;
    hour = hour < 0 ? total.indexOf(Math.max(...total)) : hour;
    tell();
  };

  day.addEventListener("pointermove", (event) => {
    const svg = charts[shown].querySelector("svg"), place = svg.getBoundingClientRect();
    const [left, , right] = svg.dataset.box.split(" ").map(Number);
    const x = (event.clientX - place.left) / place.width * svg.viewBox.baseVal.width;
    const at = Math.floor((x - left) / (right - left) * numbers.days[shown].hours.length);
    if (at < 0 || at >= numbers.days[shown].hours.length || at === hour) return;
    hour = at;
    tell();
  });
  day.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key], count = numbers.days[shown].hours.length;
    if (!step) return;
    event.preventDefault();
    hour = (hour + step + count) % count;
    tell();
  });
  which.addEventListener("change", () => show(Number(which.value)));
  document.querySelector(".choose").hidden = false;
  document.querySelector(".watch").classList.add("live");
  reading.hidden = false;
  show(0);
})();
