const ways = {name: r => r.dataset.name, share: r => -r.dataset.share, part: r => +r.dataset.part, place: r => +r.dataset.place, order: r => +r.dataset.order};
function sortTables() {
  const focused = document.activeElement;
  for (const bar of document.querySelectorAll(".sort")) {
    const by = bar.querySelector("[aria-pressed=true]").dataset.by, key = ways[by];
    const body = document.querySelector(`#${bar.dataset.table} tbody`), rows = body ? [...body.rows] : [];
    const wanted = [...rows].sort((a, b) => by === "name" ? key(a).localeCompare(key(b)) : key(a) - key(b));
    if (wanted.some((r, place) => r !== rows[place])) body.append(...wanted);
  }
  if (focused !== document.activeElement && focused.isConnected) focused.focus({preventScroll: true});
}
// A table that is wider than its place can be reached, and so scrolled, by keys.
function reachable() {
  for (const wide of document.querySelectorAll(".wide")) wide.tabIndex = wide.scrollWidth > wide.clientWidth ? 0 : -1;
}
addEventListener("resize", reachable);
document.addEventListener("toggle", reachable, true);
reachable();
for (const bar of document.querySelectorAll(".sort")) {
  bar.hidden = false;
  bar.addEventListener("click", event => {
    const by = event.target.dataset.by;
    if (!by) return;
    bar.querySelectorAll("button").forEach(b => b.setAttribute("aria-pressed", b.dataset.by === by));
    sortTables();
  });
}
// Rows that hardly count are folded away; whoever wants them sees, and prints, all.
document.documentElement.classList.add("script");
const every = document.getElementById("all");
every.hidden = false;
every.addEventListener("click", () => {
  const all = document.querySelector("main").classList.toggle("all");
  every.setAttribute("aria-pressed", all);
});
