"use strict";
/* A table is shown as cards on a narrow screen: each cell takes its heading along. Laid out as blocks, some browsers no
   longer tell a screen reader that it is a table, so its parts say what they are. */
(function () {
  var roles = { TABLE: "table", THEAD: "rowgroup", TBODY: "rowgroup", TR: "row", TH: "columnheader", TD: "cell" };
  document.querySelectorAll("table.cards").forEach(function (table) {
    var heads = Array.prototype.map.call(table.querySelectorAll("th"), function (head) { return head.textContent; });
    [table].concat(Array.prototype.slice.call(table.querySelectorAll("thead, tbody, tr, th, td"))).forEach(function (part) {
      part.setAttribute("role", roles[part.tagName]);
      if (part.tagName === "TD") { part.setAttribute("data-head", heads[part.cellIndex]); }
    });
    table.classList.add("live");
  });
}());
(function () {
  var film = document.querySelector(".slides");
  if (!film) { return; }
  var figures = Array.prototype.slice.call(film.querySelectorAll("figure"));
  if (figures.length < 2) { return; }
  var slider = document.createElement("input");
  slider.type = "range";
  slider.min = "0";
  slider.max = String(figures.length - 1);
  slider.setAttribute("aria-label", film.getAttribute("data-label"));
  function show() {
    var chosen = Number(slider.value);
    figures.forEach(function (figure, place) { figure.classList.toggle("on", place === chosen); });
    slider.setAttribute("aria-valuetext", figures[chosen].querySelector("figcaption").textContent);
  }
  slider.addEventListener("input", show);
  slider.value = slider.max;
  film.classList.add("live");
  film.parentNode.insertBefore(slider, film);
  show();
}());
(function () {
  var chart = document.querySelector("[data-trend]");
  if (!chart) { return; }
  var told = JSON.parse(chart.getAttribute("data-trend"));
  if (told.time.length < 2) { return; }
  var single = {};
  function made(tag, name, parent) {
    var element = document.createElement(tag);
    element.className = name;
    parent.appendChild(element);
    return element;
  }
  var cursor = made("div", "cursor", chart);
  var panel = document.createElement("div");
  chart.parentNode.insertBefore(panel, chart.nextSibling);
  var slider = made("input", "", panel);
  slider.type = "range";
  slider.min = "0";
  slider.max = String(told.time.length - 1);
  slider.value = slider.max;
  slider.setAttribute("aria-label", chart.getAttribute("data-slider"));
  var when = made("p", "soft", panel);
  var list = made("div", "pins", panel);
  var buttons = told.pins.map(function (name, place) {
    var button = made("button", "", list);
    button.type = "button";
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", function () {
      single[place] = !single[place];
      button.setAttribute("aria-pressed", String(single[place]));
      fade();
    });
    return button;
  });
  function fade() {
    var some = told.pins.some(function (name, place) { return single[place]; });
    chart.querySelectorAll("g[id*='-pin']").forEach(function (part) {
      var place = Number(/-pin(\d+)-/.exec(part.id)[1]);
      part.style.opacity = some && !single[place] ? "0.1" : "";
    });
  }
  function plot() {
    return Array.prototype.map.call(chart.querySelectorAll("g[id$='-plot']"), function (part) {
      return part.getBoundingClientRect();
    }).filter(function (box) { return box.width > 0; })[0];
  }
  function show() {
    var at = Number(slider.value), box = plot(), home = chart.getBoundingClientRect();
    if (box) {
      var share = (told.time[at] - told.span[0]) / (told.span[1] - told.span[0]);
      cursor.style.left = (box.left - home.left + chart.scrollLeft + share * box.width) + "px";
      cursor.style.top = (box.top - home.top) + "px";
      cursor.style.height = box.height + "px";
    }
    when.textContent = chart.getAttribute("data-when").replace("@", told.clock[at]);
    buttons.forEach(function (button, place) {
      var value = told.value[place][at], half = told.half[place][at];
      var shown = told.bound[place][at] || (value === null ? "\u2013" : value.toFixed(1));
      button.textContent = told.pins[place] + ": " + shown +
        (value === null || half === null ? "" : " \u00b1" + half.toFixed(1));
    });
    slider.setAttribute("aria-valuetext", told.clock[at]);
  }
  function point(event) {
    var box = plot();
    if (!box) { return; }
    var time = told.span[0] + (event.clientX - box.left) / box.width * (told.span[1] - told.span[0]);
    var best = 0;
    told.time.forEach(function (one, place) {
      if (Math.abs(one - time) < Math.abs(told.time[best] - time)) { best = place; }
    });
    slider.value = String(best);
    show();
  }
  slider.addEventListener("input", show);
  chart.addEventListener("pointermove", point);
  chart.addEventListener("pointerdown", point);
  window.addEventListener("resize", show);
  panel.className = "readout";
  show();
}());
