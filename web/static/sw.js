// Opens the app without signal. Styles and scripts are taken in together and served from here, so that they always
// fit each other; the server writes a digest of them all in place of the version, so new ones come in whole as well.
// Pages come from the network if it answers soon, else as they were last seen.
const VERSION = "@version"
const STATIC = `static ${VERSION}`
const PAGES = "pages"
const FILES = [
  "answer.css", "colours.css", "form.css", "page.css", "print.css", "rack.css",
  "back.js", "corners.js", "fresh.js", "lines.js", "main.js", "next.js", "offline.js", "outbox.js",
  "progress.js", "read.js", "save.js", "send.js", "shots.js", "thumbs.js", "waiting.js", "waits.js",
  "icon.svg", "offline.html",
].map((name) => `/static/${name}`)
const SHELL = ["/", "/bow", "/boards/new"]
const MOST_BOARDS = 12 // pages of boards that are kept, the latest ones
const SOON_MS = 4000

self.addEventListener("install", (event) => event.waitUntil(takeIn()))
self.addEventListener("activate", (event) => event.waitUntil(takeOver()))
self.addEventListener("fetch", (event) => {
  const { request } = event
  const { origin, pathname } = new URL(request.url)
  if (origin !== location.origin) return
  if (request.method === "POST" && forgets(pathname)) event.respondWith(forget(request))
  else if (FILES.includes(pathname)) event.respondWith(file(request))
  else if (request.method === "GET" && isKept(pathname)) event.respondWith(page(event, pathname))
  else if (request.mode !== "navigate") return
  else event.respondWith(fetch(request).catch(noSignal))
})

async function takeIn() {
  const files = await caches.open(STATIC)
  await files.addAll(FILES.map((name) => new Request(name, { cache: "reload" })))
  const pages = await caches.open(PAGES)
  await Promise.all(SHELL.map((path) => pages.add(path).catch(() => null)))
  await self.skipWaiting()
}

async function takeOver() {
  const names = await caches.keys()
  await Promise.all(names.filter((name) => name !== STATIC && name !== PAGES).map((name) => caches.delete(name)))
  await self.clients.claim()
}

async function file(request) {
  const files = await caches.open(STATIC)
  return (await files.match(request, { ignoreSearch: true })) ?? fetch(request)
}

// A page that can be kept; a script that asks for it anew gets the new one or nothing.
async function page(event, pathname) {
  const fresh = fetch(event.request)
  event.waitUntil(fresh.then((answer) => keep(pathname, answer.clone())).catch(() => null))
  if (event.request.mode !== "navigate") return fresh
  const soon = new Promise((resolve) => setTimeout(resolve, SOON_MS))
  const answer = await Promise.race([fresh, soon]).catch(() => null)
  if (answer) return answer
  return (await old(pathname)) ?? fresh.catch(noSignal)
}

function isKept(pathname) {
  return SHELL.includes(pathname) || isBoard(pathname)
}

function isBoard(pathname) {
  return /^\/boards\/[0-9a-f]+$/.test(pathname)
}

async function keep(pathname, answer) {
  const pages = await caches.open(PAGES)
  const whole = answer.ok && answer.type === "basic" && !answer.redirected
  if (whole || answer.status === 404) await pages.delete(pathname) // so that the latest comes last
  if (whole) await pages.put(pathname, answer)
  const boards = (await pages.keys()).filter((request) => isBoard(new URL(request.url).pathname))
  await Promise.all(boards.slice(0, -MOST_BOARDS).map((request) => pages.delete(request)))
}

// A page seen before, marked as old for the script that says so.
async function old(pathname) {
  const kept = await (await caches.open(PAGES)).match(pathname)
  if (!kept) return null
  const headers = new Headers(kept.headers)
  headers.delete("Content-Length")
  headers.delete("Content-Encoding")
  return new Response((await kept.text()).replace("<html", "<html data-old"), { headers })
}

async function noSignal() {
  return (await caches.open(STATIC)).match("/static/offline.html")
}

function forgets(pathname) {
  return pathname === "/forget" || /^\/boards\/[^/]+\/delete$/.test(pathname)
}

async function forget(request) {
  const answer = await fetch(request)
  if (answer.ok || answer.type === "opaqueredirect") await caches.delete(PAGES)
  return answer
}
