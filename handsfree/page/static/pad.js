// The number pad, for a gloved thumb: the same keys as the one on the bench.

const KEYS = [
  ["Num Lock", "Clear", "wipe"], ["/", "/", "correct"], ["*", "∗", "place, next"],
  ["Backspace", "⌫", "back"],
  ["7", "7"], ["8", "8"], ["9", "9"], ["-", "−", "no go, no"],
  ["4", "4"], ["5", "5"], ["6", "6"], ["+", "+", "go, yes"],
  ["1", "1"], ["2", "2"], ["3", "3"], ["Enter", "Enter", "send"],
  ["0", "0"], [".", "."],
];

/** Fill a node with the keys; `press` gets the name of each that is pressed. */
export function makePad(node, press) {
  const buttons = KEYS.map(([key, label, use]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.key = key;
    const face = document.createElement("span");
    face.textContent = label;
    button.append(face);
    if (use) {
      const under = document.createElement("small");
      under.textContent = use;
      button.append(under);
    }
    button.addEventListener("click", () => press(key));
    return button;
  });
  node.replaceChildren(...buttons);
  return {
    enabled(on) {
      for (const button of buttons) button.disabled = !on;
    },
  };
}
