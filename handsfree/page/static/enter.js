// Exchanges the pass for the cookie. The pass comes after the # of the address, which browsers send nowhere.

const form = document.getElementById("form");
const field = document.getElementById("pass");
const said = document.getElementById("said");

async function enter() {
  said.textContent = "";
  try {
    const answer = await fetch("/enter", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ pass: field.value }),
    });
    const told = await answer.json();
    if (answer.ok) {
      location.replace(told.go);
      return;
    }
    said.textContent = told.error;
  } catch {
    said.textContent = "The bench doesn't answer. Is it still at work?";
  }
  field.focus();
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  enter();
});

const given = location.hash.slice(1);
if (given) {
  history.replaceState(null, "", location.pathname); // it is good once, so nobody needs it in the history
  field.value = given;
  enter();
} else {
  field.focus();
}
