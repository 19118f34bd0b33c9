"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const buttons = [...document.querySelectorAll("#list .tick")];
  const item = data.columns.indexOf("item");
  const state = data.columns.indexOf("state");

  // ticks changed on this phone, by item: what the file says stands until somebody taps
  let changed = {};
  try {
    changed = JSON.parse(localStorage.getItem(data.key) || "{}") || {};
    localStorage.setItem(data.key, JSON.stringify(changed));
  } catch {
    byId("no-storage").hidden = false;
  }

  const isDone = (i) => {
    const name = data.rows[i][item];
    return Object.hasOwn(changed, name) ? changed[name] === true : buttons[i].dataset.first === "true";
  };

  const show = () => {
    let open = 0;
    buttons.forEach((button, i) => {
      const done = isDone(i);
      open += done ? 0 : 1;
      button.setAttribute("aria-pressed", String(done));
      button.parentElement.classList.toggle("done", done);
    });
    byId("progress").textContent = open === 0 ? "Everything is ready." : `${open} of ${buttons.length} open.`;
  };

  buttons.forEach((button, i) => {
    button.dataset.first = button.getAttribute("aria-pressed");
    button.addEventListener("click", () => {
      changed[data.rows[i][item]] = !isDone(i);
      try {
        localStorage.setItem(data.key, JSON.stringify(changed));
      } catch {
        byId("no-storage").hidden = false;
      }
      show();
    });
  });

  // the same table as readiness.csv, quoted as RFC 4180 asks
  const cell = (text) => (/[",\n\r]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text);
  const table = () => {
    const rows = data.rows.map((row, i) => {
      const was = buttons[i].dataset.first === "true";
      const copy = [...row];
      if (isDone(i) !== was) copy[state] = isDone(i) ? "done" : "not done";
      return copy;
    });
    return [data.columns, ...rows].map((row) => row.map(cell).join(",")).join("\n") + "\n";
  };

  byId("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([table()], { type: "text/csv" }));
    link.download = "readiness.csv";
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  });

  show();
})();
