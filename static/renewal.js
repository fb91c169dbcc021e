// A page whose [data-renews] part shows the queue renews it when somebody changed it: one stream of events a page, open
// while the page is seen. Without a script the page is loaded again by hand.

const part = document.querySelector("[data-renews]");
let source = null;
let renewing = false;

/** Whether somebody is in the middle of something that a new part would take away. */
function isInUse() {
  const within = part.contains(document.activeElement) && document.activeElement.matches("input, select, textarea");
  return within || part.querySelector("details.move[open]") !== null;
}

function offer() {
  if (document.getElementById("renewal-offer") !== null) return;
  const offered = document.createElement("p");
  offered.id = "renewal-offer";
  offered.className = "renewal";
  offered.setAttribute("role", "status");
  const link = document.createElement("a");
  link.href = location.href;
  link.textContent = "Somebody changed the queue: show it as it is now";
  offered.append(link);
  part.before(offered);
}

async function renew() {
  if (renewing) return;
  if (isInUse()) {
    offer();
    return;
  }
  renewing = true;
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    // signed out meanwhile: the sign-in page is another one
    if (!answer.ok || answer.redirected) {
      location.reload();
      return;
    }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const anew = page.querySelector("[data-renews]");
    if (anew !== null && !isInUse()) {
      part.replaceChildren(...anew.childNodes);
      part.dataset.renews = anew.dataset.renews;
      document.getElementById("renewal-offer")?.remove();
      part.dispatchEvent(new CustomEvent("renewed", { bubbles: true }));
    }
  } catch {
    // the network is away: the stream opens again by itself, and says what stands then
  } finally {
    renewing = false;
  }
}

function listen() {
  source?.close();
  source = new EventSource("/changes");
  source.addEventListener("queue", (told) => {
    if (told.data !== part.dataset.renews) renew();
  });
}

if (part !== null) {
  listen();
  // a browser opens few connections to one house: a page that nobody sees keeps none
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") {
      source?.close();
      source = null;
    } else if (source === null) {
      listen();
    }
  });
  addEventListener("pagehide", () => source?.close());
}
