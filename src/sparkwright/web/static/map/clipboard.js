// To and from a spreadsheet: lines of numbers parted by tabs.

export function blockText(values, axes = null) {
  const lines = axes ? [[axes.corner, ...axes.rpm], ...values.map((line, i) => [axes.loads[i], ...line])] : values;
  return lines.map((each) => each.join("\t")).join("\n") + "\n";
}

export function listenToClipboard(view, { change, say }) {
  const { page, selection } = view;
  const pasteText = document.getElementById("paste-text");

  function chosen(axes) {
    const { top, bottom, left, right } = selection.span;
    const rows = page.cells.slice(top, bottom + 1);
    const values = rows.map((line) => line.slice(left, right + 1).map((cell) => cell.dataset.value));
    if (!axes) return blockText(values);
    const rpm = page.columnHeads.slice(left, right + 1).map(speedOf);
    // As the controller has them, which the corner names.
    const loads = page.rowHeads.slice(top, bottom + 1).map((link) => link.dataset.load);
    return blockText(values, { corner: page.grid.dataset.corner, rpm, loads });
  }

  function copied(cut) {
    const count = selection.places().length;
    if (cut) change({ do: "give back" });
    else say(`${count === 1 ? "1 cell" : `${count} cells`} copied.`);
  }

  function byHand() {
    document.getElementById("map-keys").open = true;
    pasteText.focus();
  }

  for (const name of ["copy", "cut"]) {
    document.addEventListener(name, (event) => {
      if (!view.inGrid()) return;
      event.clipboardData.setData("text/plain", chosen(false));
      event.preventDefault();
      copied(name === "cut");
    });
  }
  document.addEventListener("paste", (event) => {
    if (!view.inGrid()) return;
    event.preventDefault();
    change({ do: "paste", text: event.clipboardData.getData("text/plain") });
  });

  return {
    async copy(axes, cut = false) {
      const text = chosen(axes);
      try {
        await navigator.clipboard.writeText(text);
        copied(cut);
      } catch {
        byHand();
        pasteText.value = text;
        pasteText.select();
        say("This browser gives no clipboard here; the block stands in the field below, selected, to be copied by hand.");
      }
    },
    async paste() {
      let text = null;
      try {
        text = await navigator.clipboard.readText();
      } catch {
        byHand();
        say("This browser gives no clipboard here; paste the block into the field below.");
        return;
      }
      change({ do: "paste", text });
    },
    pasteTyped() {
      change({ do: "paste", text: pasteText.value });
    },
  };
}

function speedOf(link) {
  return link.dataset.line.split("-").slice(1).join("-");
}
