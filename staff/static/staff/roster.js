/* The roster's grid: arrow keys go from day to day, and a place or a person's day can be dragged.
   Without this script every cell is a link to a page that does the same. */
"use strict";

(() => {
  const table = document.querySelector(".roster-grid");
  const drop = document.getElementById("drop");
  if (!table || !drop) return;

  const cells = new Map();
  for (const cell of table.querySelectorAll("a[data-cell]")) cells.set(cell.dataset.cell, cell);
  const rows = table.tBodies[0].rows.length;
  const columns = table.tHead.rows[0].cells.length - 1;

  const STEPS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

  function goFrom(cell, down, right) {
    let [row, column] = cell.dataset.cell.split(":").map(Number);
    // Days that are over have no cell: go past them.
    for (;;) {
      row += down;
      column += right;
      if (row < 1 || column < 1 || row > rows || column > columns) return;
      const next = cells.get(`${row}:${column}`);
      if (next) {
        next.focus();
        return;
      }
    }
  }

  table.addEventListener("keydown", (event) => {
    const cell = event.target.closest("a[data-cell]");
    const step = STEPS[event.key];
    if (!cell || !step || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    goFrom(cell, ...step);
  });

  // Back from a day's page the reader goes on where they were.
  const here = location.hash && document.getElementById(location.hash.slice(1));
  if (here) here.focus({ preventScroll: false });

  /* Dragging. What is carried is a place ("seat") of a day, or a person's day. */
  let carried = null;

  function takes(cell) {
    if (!carried || cell.dataset.day !== carried.day) return false;
    if (!cell.closest("tr").dataset.roles.split(" ").includes(carried.role)) return false;
    const state = cell.parentElement.className;
    // Somebody due for a day off, or who can't come, takes an open place only after being asked back.
    return state.includes("cell-free") || (carried.seat && /cell-(rest|asked)/.test(state));
  }

  function carry(event, what) {
    carried = what;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", what.role);
    for (const cell of cells.values()) cell.classList.toggle("may-drop", takes(cell));
  }

  function letGo() {
    carried = null;
    for (const cell of cells.values()) cell.classList.remove("may-drop", "drop-here");
  }

  for (const chip of table.querySelectorAll("[data-seat]")) {
    chip.draggable = true;
    chip.addEventListener("dragstart", (event) =>
      carry(event, { seat: chip.dataset.seat, role: chip.dataset.role, day: chip.dataset.day }),
    );
    chip.addEventListener("dragend", letGo);
  }
  for (const cell of cells.values()) {
    if (cell.parentElement.classList.contains("cell-on")) {
      cell.addEventListener("dragstart", (event) =>
        carry(event, { from: cell, role: cell.dataset.role, day: cell.dataset.day }),
      );
      cell.addEventListener("dragend", letGo);
    } else {
      cell.draggable = false;
    }
    cell.addEventListener("dragover", (event) => {
      if (!takes(cell)) return;
      event.preventDefault();
      cell.classList.add("drop-here");
    });
    cell.addEventListener("dragleave", () => cell.classList.remove("drop-here"));
    cell.addEventListener("drop", (event) => {
      if (!takes(cell)) return;
      event.preventDefault();
      if (carried.seat) send(cell.href, { act: "put-on", seat: carried.seat });
      else send(carried.from.href, { act: "hand-over", person: cell.dataset.person });
    });
  }

  function send(address, values) {
    drop.action = address;
    for (const [name, value] of Object.entries(values)) {
      const field = document.createElement("input");
      field.type = "hidden";
      field.name = name;
      field.value = value;
      drop.append(field);
    }
    drop.submit();
  }
})();
