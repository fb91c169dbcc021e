// Photographs go in pieces, one after the other, and go on after a cut where they were. The upload's name is kept in
// this browser until the photograph is in the books: after the page was closed, the same file chosen again goes on
// where it was, as long as its pieces are kept.

const PIECE = 256 * 1024;
const LONGEST_PAUSE = 20000;

for (const form of document.querySelectorAll("form[data-photos]")) {
  form.addEventListener("submit", (event) => {
    const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
    if (files.length === 0) return;
    event.preventDefault();
    if (form.dataset.going) return;
    form.dataset.going = "yes";
    sendAll(form, files).finally(() => delete form.dataset.going);
  });
}

async function sendAll(form, files) {
  const button = form.querySelector("button[type=submit]");
  const list = form.querySelector("[data-photos-progress]");
  list.replaceChildren();
  list.hidden = false;
  button.setAttribute("aria-disabled", "true");
  let kept = 0;
  for (const file of files) {
    const row = list.appendChild(document.createElement("li"));
    const words = row.appendChild(document.createElement("span"));
    const bar = row.appendChild(document.createElement("progress"));
    bar.max = file.size;
    bar.value = 0;
    bar.setAttribute("aria-label", file.name);
    const say = (text) => (words.textContent = `${file.name}: ${text} `);
    say("on its way");
    const refused = await send(form, file, (received) => (bar.value = received), say);
    bar.remove();
    if (refused) {
      say(refused);
      words.className = "message";
    } else {
      say("kept");
      kept += 1;
    }
  }
  button.removeAttribute("aria-disabled");
  if (kept === files.length) location.reload();
}

/** Sends one file; answers why it is not kept, or nothing. */
async function send(form, file, progress, say) {
  const key = ["photo", form.dataset.photos, file.name, file.size, file.lastModified].join("|");
  const upload = remembered(key);
  const url = form.dataset.photos + upload;
  const query = new URLSearchParams({ of: file.size });
  for (const name of ["mark", "caption"]) query.set(name, form.elements[name]?.value ?? "");
  if (form.elements.for_customer?.checked) query.set("for_customer", "yes");
  let received = null;
  let pause = 1000;
  for (;;) {
    try {
      if (received === null) received = (await told(await fetch(url))).received;
      query.set("from", received);
      const piece = file.slice(received, received + PIECE);
      const answer = await fetch(`${url}?${query}`, {
        method: "POST",
        headers: { "content-type": "application/octet-stream" },
        body: piece,
      });
      const state = await told(answer);
      if (state.refused || state.done) {
        localStorage.removeItem(key);
        return state.refused;
      }
      received = state.received;
      progress(received);
      pause = 1000;
    } catch (cause) {
      if (cause.final) return cause.message;
      say("the connection is gone; it goes on by itself");
      await new Promise((resolve) => {
        setTimeout(resolve, pause);
        addEventListener("online", resolve, { once: true });
      });
      pause = Math.min(pause * 2, LONGEST_PAUSE);
      received = null;
    }
  }
}

/** The state in an answer; what is no answer of the upload's own is an error, final where waiting is no help. */
async function told(answer) {
  if (answer.headers.get("content-type")?.startsWith("application/json")) return answer.json();
  const error = new Error("It was not taken. Reload the page, sign in where it asks, and send it again.");
  error.final = answer.redirected || (answer.status >= 400 && answer.status < 500);
  throw error;
}

function remembered(key) {
  const known = localStorage.getItem(key);
  if (known) return known;
  const fresh = newUuid();
  localStorage.setItem(key, fresh);
  return fresh;
}

// crypto.randomUUID is there behind TLS only; a shop's own network may be without
function newUuid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}
