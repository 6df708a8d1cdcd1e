/* Pointing at a part, a point or a finding shows the others. Words come from the data; nothing is
   worked out here, and text only ever goes in as text. */
(() => {
  "use strict";
  for (const section of document.querySelectorAll("section.drawing")) {
    const held = section.querySelector("script[type='application/json']");
    if (held) start(section, JSON.parse(held.textContent));
  }
  window.addEventListener("beforeprint", () => {
    for (const closed of document.querySelectorAll("details:not([open])")) closed.open = true;
  });

  function start(section, data) {
    const one = (selector) => section.querySelector(selector);
    const drawn = one("svg.drawn");
    const sheet = one(".sheet");
    const told = one(".asked");
    const states = one("select.state"); // there is none where nothing is solved
    const which = one("select.which");
    let state = states ? states.selectedIndex : 0;
    let kept = "";

    widen(drawn);
    for (const hidden of section.querySelectorAll("[hidden]")) hidden.hidden = false;
    if (states)
      states.addEventListener("change", () => {
        state = states.selectedIndex;
        volts();
        show(kept);
      });
    which.addEventListener("change", () => keep(which.value, true));
    one(".large").addEventListener("change", (event) =>
      sheet.classList.toggle("natural", event.target.checked));

    drawn.addEventListener("pointerover", (event) => {
      if (event.pointerType === "mouse") show(at(event.target) || kept);
    });
    drawn.addEventListener("pointerleave", () => show(kept));
    drawn.addEventListener("click", (event) => {
      const number = event.target.getAttribute("data-finding");
      if (number) open(number);
      else keep(at(event.target), false);
    });
    for (const finding of section.querySelectorAll("details[data-finding]")) {
      const names = data.findings[finding.dataset.finding];
      for (const kind of ["pointerenter", "focusin"])
        finding.addEventListener(kind, () => light(names, finding.dataset.finding));
      for (const kind of ["pointerleave", "focusout"])
        finding.addEventListener(kind, () => show(kept));
      finding.querySelector("button.place").addEventListener("click", () => {
        kept = names[0] || "";
        which.value = kept;
        show(kept);
        light(names, finding.dataset.finding);
        reveal("center");
        sheet.focus({ preventScroll: true });
      });
    }
    show("");

    function at(target) {
      const owner = target.closest("[data-part], [data-net]");
      if (!owner) return "";
      return owner.dataset.part === undefined ? `n ${owner.dataset.net}` : `p ${owner.dataset.part}`;
    }

    function keep(name, move) {
      kept = name;
      which.value = data.parts[name] || data.nets[name] ? name : "";
      show(kept);
      if (move) reveal("nearest");
    }

    function open(number) {
      const finding = one(`details[data-finding="${number}"]`);
      if (!finding) return;
      finding.open = true;
      finding.querySelector("summary").focus();
    }

    function reveal(block) {
      const lit = drawn.querySelector(".lit");
      if (lit) lit.scrollIntoView({ block, inline: "center" });
    }

    function volts() {
      for (const text of drawn.querySelectorAll("text.volts[data-net]")) {
        const net = data.nets[`n ${text.dataset.net}`];
        text.textContent = net ? data.words[net.short[state]] : "";
      }
      one(".in-state").textContent = data.states[state] || "";
    }

    function light(names, number) {
      for (const lit of drawn.querySelectorAll(".lit")) lit.classList.remove("lit");
      for (const name of names) {
        const kind = name.startsWith("p ") ? "part" : "net";
        for (const here of drawn.querySelectorAll(`[data-${kind}="${CSS.escape(name.slice(2))}"]`))
          here.classList.add("lit");
      }
      if (number)
        for (const badge of drawn.querySelectorAll(`rect[data-finding="${number}"]`))
          badge.classList.add("lit");
    }

    function show(name) {
      light(name ? [name] : []);
      const part = data.parts[name];
      const net = data.nets[name];
      told.replaceChildren();
      if (!part && !net) {
        told.append(made("p", data.hint));
        return;
      }
      const told_of = part || net;
      told.append(made("h3", told_of.head));
      const figures = told_of.long.length ? data.words[told_of.long[state]] : "";
      if (figures) told.append(made("p", `${data.states[state]}: ${figures}`));
      if (part) told.append(leads(part));
      else told.append(made("p", net.on ? `on it: ${net.on}` : ""));
      for (const [number, names] of Object.entries(data.findings))
        if (names.includes(name)) told.append(pointer(number));
      if (told_of.where) told.append(made("p", told_of.where, "where"));
    }

    function leads(part) {
      const list = made("dl");
      for (const [lead, name] of part.leads) {
        const net = data.nets[name];
        const volts = net.short.length ? data.words[net.short[state] || net.long[state]] : "";
        const pair = made("div");
        pair.append(made("dt", lead), made("dd", volts ? `${net.head}, ${volts}` : net.head));
        list.append(pair);
      }
      return list;
    }

    function pointer(number) {
      const said = (kind) => one(`details[data-finding="${number}"] .${kind}`)?.textContent ?? "";
      const button = made("button", `${number} ${said("word")} ${said("what")}`);
      button.type = "button";
      button.addEventListener("click", () => open(number));
      return button;
    }
  }

  /* Thin lines are hard to hit: each gets a broad one that is not seen, each symbol its frame. */
  function widen(drawn) {
    for (const wire of drawn.querySelectorAll("path[data-net]")) {
      const broad = wire.cloneNode();
      broad.classList.add("hit");
      wire.after(broad);
    }
    for (const symbol of drawn.querySelectorAll("g[data-part], g[data-net]")) {
      const box = symbol.getBBox();
      const frame = document.createElementNS(drawn.namespaceURI, "rect");
      for (const side of ["x", "y", "width", "height"]) frame.setAttribute(side, box[side]);
      frame.classList.add("hit");
      symbol.prepend(frame);
    }
  }

  function made(tag, text, kind) {
    const element = document.createElement(tag);
    if (text) element.textContent = text;
    if (kind) element.className = kind;
    return element;
  }
})();
