// Keeps the shell (our own files, nothing of the user's) so that the page opens when the bench can't be
// reached, and says so. The bench's own answer always comes first.

const KEPT = "shell-1";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { method, url } = event.request;
  const path = new URL(url).pathname;
  if (method !== "GET" || !(path.startsWith("/static/") || path === "/bench")) return;
  event.respondWith(fresh(event.request));
});

async function fresh(request) {
  const shelf = await caches.open(KEPT);
  try {
    const answer = await fetch(request);
    if (answer.ok && !answer.redirected) await shelf.put(request, answer.clone());
    return answer;
  } catch (fault) {
    const kept = await shelf.match(request);
    if (kept) return kept;
    throw fault;
  }
}
