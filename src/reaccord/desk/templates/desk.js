const at = id => document.getElementById(id);
const form = at("handles");
let waiting = new Map(), busy = false, typing = 0, dragged = null;

// Put new HTML in the place of old, keeping every element that is still there: what moves, moves; focus stays.
function place(old, html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  children(old, fresh.content);
}
function children(old, fresh) {
  const known = new Map([...old.children].filter(e => e.dataset && e.dataset.name).map(e => [e.dataset.name, e]));
  let next = old.firstChild;
  for (const wanted of [...fresh.childNodes]) {
    const kept = wanted.dataset && wanted.dataset.name ? known.get(wanted.dataset.name) : next;
    if (kept && kept.nodeName === wanted.nodeName && (kept.id || "") === (wanted.id || "") && !(kept !== next && !known.has(wanted.dataset?.name))) {
      if (kept !== next) old.insertBefore(kept, next);
      else next = next.nextSibling;
      same(kept, wanted);
    } else old.insertBefore(wanted, next);
  }
  while (next) { const gone = next; next = next.nextSibling; gone.remove(); }
}
function same(old, wanted) {
  if (old.nodeType !== 1) {
    if (old.nodeValue !== wanted.nodeValue) old.nodeValue = wanted.nodeValue;
    return;
  }
  for (const {name} of [...old.attributes])
    if (!wanted.hasAttribute(name) && !(name === "open" && old.nodeName === "DETAILS")) old.removeAttribute(name);
  for (const {name, value} of wanted.attributes)
    if (old.getAttribute(name) !== value && !(name === "open" && old.nodeName === "DETAILS")) old.setAttribute(name, value);
  children(old, wanted);
}
const first = ["verdict", "pour", "off-part", "limits"], known = {};
function show(parts) {
  const fresh = Object.entries(parts).filter(([id, html]) => at(id) && known[id] !== html);
  for (const [id, html] of fresh) known[id] = html;
  const put = some => {
    for (const [id, html] of some) if (known[id] === html) place(at(id), html);
  };
  put(fresh.filter(([id]) => first.includes(id)));
  sortTables();
  reachable();
  setTimeout(() => {
    put(fresh.filter(([id]) => !first.includes(id)));
    reachable();
    ready();
  });
}

// What handles say now; one that is being typed into, or dragged, is left alone.
function stand(fields) {
  for (const field of fields) {
    const box = [...form.querySelectorAll(".handle")].find(e => e.dataset.handle === field.name);
    if (!box) continue;
    const input = box.querySelector("[name]"), slide = box.querySelector(".slide");
    box.classList.toggle("moved", !!field.was);
    box.querySelector(".says").textContent = field.says;
    box.querySelector(".was").textContent = field.was;
    input.toggleAttribute("aria-invalid", !!field.says);
    if (field.says) input.setAttribute("aria-invalid", "true");
    if (waiting.has(field.name)) continue;
    if (input.type === "checkbox") input.checked = field.text === "in";
    else if (document.activeElement !== input || !field.says) input.value = field.text;
    if (slide && dragged !== slide) slide.value = field.slide ?? slide.max;
  }
  for (const group of form.querySelectorAll(".group")) {
    const moved = group.querySelectorAll(".moved").length, head = group.querySelector("summary");
    if (moved) head.dataset.moved = moved;
    else delete head.dataset.moved;
  }
}
function lost() {
  delete known.notices;
  place(at("notices"), "<p class=notice>The desk does not answer. Is it still running in its window? Nothing is lost while it is.</p>");
}
async function send(where, data) {
  try {
    const answer = await fetch(where, {method: "POST", headers: {"X-Desk": "1"}, body: new URLSearchParams(data)});
    if (!answer.ok) throw new Error(await answer.text());
    const told = await answer.json();
    if (told.gone) return location.reload();
    show(told.parts || {});
    stand(told.fields || []);
    for (const id of ["undo", "redo", "start"]) if (id in told) at(id).disabled = !told[id];
    return told;
  } catch (fault) {
    lost();
  }
}
async function moving(name, text) {
  waiting.set(name, text);
  if (busy) return;
  busy = true;
  while (waiting.size) {
    const data = [...waiting];
    waiting = new Map();
    await send("move", data);
  }
  busy = false;
}
function typed(input) {
  clearTimeout(typing);
  moving(input.name, input.type === "checkbox" ? (input.checked ? "in" : "out") : input.value);
}
form.addEventListener("input", event => {
  const input = event.target;
  if (input.classList.contains("slide")) {
    dragged = input;
    const field = input.closest(".handle").querySelector("[name]");
    field.value = input.value + input.dataset.sign;
    typed(field);
  } else if (input.name && input.type !== "checkbox" && input.nodeName === "INPUT") {
    clearTimeout(typing);
    typing = setTimeout(() => typed(input), 600);
  }
});
form.addEventListener("change", event => {
  dragged = null;
  if (event.target.name) typed(event.target);
});
document.addEventListener("submit", async event => {
  event.preventDefault();
  const button = event.submitter, where = button?.getAttribute("formaction") || event.target.getAttribute("action");
  if (event.target === form) {
    if (!button || button.id === "work") {
      if (document.activeElement.form === form && document.activeElement.name) typed(document.activeElement);
    } else await send(where, button.name ? [[button.name, button.value]] : []);
  } else if (event.target.id === "trials") {
    const ask = new URLSearchParams(new FormData(event.target));
    place(at("beside"), await (await fetch("beside?" + ask, {headers: {"X-Desk": "1"}})).text());
  } else await send(where, new FormData(event.target));
});
document.addEventListener("keydown", event => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || /^(text|)$/.test(event.target.type ?? "none")) return;
  event.preventDefault();
  send(event.shiftKey ? "redo" : "undo", []);
});
function ready() { for (const slide of form.querySelectorAll(".slide")) slide.hidden = false; }
ready();
new ResizeObserver(([top]) => document.documentElement.style.setProperty("--top", top.target.offsetHeight + "px"))
  .observe(document.querySelector(".top"));
if (innerWidth < 700) for (const group of form.querySelectorAll("details.group")) group.open = false;  // the answer first

const events = new EventSource("events");
events.onerror = lost;
events.onmessage = event => {
  const told = JSON.parse(event.data);
  if (told.ended) return events.close(), lost();
  if (told.gone) location.reload();
  show(told.parts || {});
  stand(told.fields || []);
};
