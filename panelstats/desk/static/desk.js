// Comfort only: everything works without it.
"use strict";

// Files and folders dropped on the page.
const form = document.querySelector("[data-drop]");
const filesOf = async entry => {
  if (entry.isFile) return [{file: await new Promise((done, failed) => entry.file(done, failed)), name: entry.fullPath.slice(1)}];
  const reader = entry.createReader(), found = [];
  for (;;) {
    const some = await new Promise((done, failed) => reader.readEntries(done, failed));
    if (!some.length) return found;
    for (const each of some) found.push(...await filesOf(each));
  }
};
const send = async files => {
  const data = new FormData();
  files.forEach(({file, name}) => data.append("sheets", file, name));  // with the folders it lay in
  const told = document.querySelector("[data-dropped]");
  told.textContent = told.dataset.adding;
  const answer = await fetch("/sheets", {method: "POST", body: data});
  if (answer.ok) location.assign("/");
  else told.textContent = answer.headers.get("content-type").startsWith("text/plain") ? await answer.text() : told.dataset.failed;
};
if (form) {
  for (const kind of ["dragover", "dragleave", "drop"]) document.addEventListener(kind, event => {
    event.preventDefault();
    form.classList.toggle("over", kind === "dragover");
  });
  document.addEventListener("drop", async event => {
    const entries = [...event.dataTransfer.items].map(item => item.webkitGetAsEntry()).filter(Boolean);
    const files = (await Promise.all(entries.map(filesOf))).flat();
    if (files.length) await send(files);
  });
}

// What is being done, told as it goes on.
const step = document.querySelector("[data-progress]");
if (step) {
  const look = async () => {
    const now = await (await fetch("/progress")).json();
    if (now.done) return location.replace(step.dataset.progress);
    const text = `${now.step}, ${now.seconds} s`;
    step.textContent = text[0].toUpperCase() + text.slice(1);
    setTimeout(look, 400);
  };
  setTimeout(look, 250);
}

// A page printed where it is shown.
const print = document.querySelector("[data-print]");
if (print) print.addEventListener("click", event => {
  event.preventDefault();
  document.getElementById(print.dataset.print).contentWindow.print();
});

// Scores typed: kept at every change; Enter and the arrows go up and down.
const draft = document.querySelector("[data-draft]");
if (draft) {
  const saved = document.querySelector("[data-saved]");
  const keep = async () => {
    const data = new FormData(draft);
    data.set("step", "auto");
    try {
      const answer = await fetch(draft.action, {method: "POST", body: data});
      saved.textContent = answer.ok ? saved.dataset.kept : saved.dataset.unkept;
    } catch { saved.textContent = saved.dataset.closed; }
  };
  let soon, last = Promise.resolve();  // one after the other: what was typed last is kept last
  draft.addEventListener("input", () => { clearTimeout(soon); soon = setTimeout(() => { last = last.then(keep); }, 300); });
  draft.addEventListener("submit", () => clearTimeout(soon));
  draft.addEventListener("keydown", event => {
    const by = {Enter: 1, ArrowDown: 1, ArrowUp: -1}[event.key];
    if (!by || !event.target.name || !event.target.name.startsWith("c")) return;
    event.preventDefault();
    const [row, column] = event.target.name.slice(1).split("-").map(Number);
    const next = draft.elements[`c${row + by}-${column}`] || (by > 0 && draft.elements[`c0-${column + 1}`]);
    if (next) { next.focus(); next.select(); }
  });
}
