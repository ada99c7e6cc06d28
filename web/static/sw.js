// Opens the app without signal. Styles and scripts are taken in together and served from here, so that they always
// fit each other; the server writes their names, and a digest of them all in place of the version, so new ones come in
// whole as well. Pages come from the network if it answers soon, else as they were last seen; the rack, when the app is
// opened with it, as last seen at once, to be brought up to date by its script. Pictures never change, so those seen once
// are not fetched again.
const VERSION = "@version"
const STATIC = `static ${VERSION}`
const PAGES = "pages"
const PICTURES = "pictures"
const FILES = ["@files"].map((name) => `/static/${name}`)
const WAITING = "/boards/waiting" // the same for every board that waits, so never asked for twice
const NONE = "/no-signal"
const SHELL = ["/", "/bow", "/boards/new", WAITING, NONE]
const MOST_BOARDS = 30 // pages of boards, their answers and sides that are kept, the latest ones
const MOST_PICTURES = 60
const SOON_MS = 4000

self.addEventListener("install", (event) => event.waitUntil(takeIn()))
self.addEventListener("activate", (event) => event.waitUntil(takeOver()))
self.addEventListener("fetch", (event) => {
  const { request } = event
  const { origin, pathname } = new URL(request.url)
  if (origin !== location.origin) return
  if (request.method === "POST" && pathname === "/forget") return // its answer ends the worker, which cannot give it
  if (request.method === "POST" && pathname.endsWith("/delete")) event.respondWith(forget(event))
  else if (FILES.includes(pathname)) event.respondWith(file(request))
  else if (request.method === "GET" && isKept(pathname)) event.respondWith(page(event, pathname))
  else if (request.method === "GET" && isPicture(pathname)) event.respondWith(picture(event))
  else if (request.mode !== "navigate") return
  else event.respondWith(fetch(request).catch(noSignal))
})

async function takeIn() {
  const files = await caches.open(STATIC)
  await files.addAll(FILES.map((name) => new Request(name, { cache: "reload" })))
  await takePages()
  await self.skipWaiting()
}

// The form for a board leads elsewhere until there is a bow, which may be set without signal.
async function takePages() {
  const pages = await caches.open(PAGES)
  const take = async (path) => {
    const answer = await fetch(path === "/boards/new" ? `${path}?ahead=1` : path)
    if (isWhole(answer)) await pages.put(path, answer)
  }
  await Promise.all(SHELL.map((path) => take(path).catch(() => null)))
}

async function takeOver() {
  const names = await caches.keys()
  const old = names.filter((name) => ![STATIC, PAGES, PICTURES].includes(name))
  await Promise.all(old.map((name) => caches.delete(name)))
  await self.clients.claim()
}

// Some browsers have told the language by the time a page's request gets here, but not in the worker's own: files do
// not vary by it, though every answer says that it might.
async function file(request) {
  const files = await caches.open(STATIC)
  return (await files.match(request, { ignoreSearch: true, ignoreVary: true })) ?? fetch(request)
}

// A page that can be kept; a script that asks for it anew gets the new one or nothing.
async function page(event, pathname) {
  const opens = pathname === "/" && event.request.mode === "navigate" && !event.request.referrer
  const early = opens && (await old(pathname, "data-early"))
  if (early) return early
  const fresh = fetch(event.request)
  event.waitUntil(fresh.then((answer) => keep(pathname, answer.clone())).catch(() => null))
  if (event.request.mode !== "navigate") return fresh
  if (pathname === WAITING) return (await caches.match(WAITING, { cacheName: PAGES })) ?? fresh.catch(noSignal)
  const soon = new Promise((resolve) => setTimeout(resolve, SOON_MS))
  const answer = await Promise.race([fresh, soon]).catch(() => null)
  if (answer) return answer
  return (await old(pathname)) ?? fresh.catch(noSignal)
}

function isKept(pathname) {
  return SHELL.includes(pathname) || isBoard(pathname)
}

function isBoard(pathname) {
  return /^\/boards\/[0-9a-f]+(\/answer(\/\w+)?)?$/.test(pathname)
}

async function keep(pathname, answer) {
  const pages = await caches.open(PAGES)
  const whole = isWhole(answer)
  if (whole || answer.status === 404) await pages.delete(pathname) // so that the latest comes last
  if (whole) await pages.put(pathname, answer)
  await dropOld(pages, MOST_BOARDS, (request) => isBoard(new URL(request.url).pathname))
  if (!(await pages.match(NONE))) await takePages() // all was forgotten
}

function isWhole(answer) {
  return answer.ok && answer.type === "basic" && !answer.redirected
}

async function dropOld(cache, most, counts) {
  const all = (await cache.keys()).filter(counts)
  await Promise.all(all.slice(0, -most).map((request) => cache.delete(request)))
}

// Photos and pictures of answers, by addresses that name one content each.
function isPicture(pathname) {
  return /^\/boards\/[0-9a-f]+\/(photos|pictures)\/\w+$/.test(pathname)
}

async function picture(event) {
  const pictures = await caches.open(PICTURES)
  const kept = await pictures.match(event.request)
  if (kept) return kept
  const answer = await fetch(event.request)
  const keepIt = async (copy) => {
    await pictures.put(event.request, copy)
    await dropOld(pictures, MOST_PICTURES, () => true)
  }
  if (isWhole(answer)) event.waitUntil(keepIt(answer.clone()).catch(() => null)) // there may be no room for it
  return answer
}

// A page seen before, marked as old for the script that says so. What it would send once has a name of its own each time.
async function old(pathname, mark = "data-old") {
  const kept = await (await caches.open(PAGES)).match(pathname)
  if (!kept) return null
  const headers = new Headers(kept.headers)
  headers.delete("Content-Length")
  headers.delete("Content-Encoding")
  const text = await kept.text()
  const touched = text.replace(/name="once" value="[^"]*/g, () => `name="once" value="${crypto.randomUUID()}`)
  return new Response(touched.replace("<html", `<html ${mark}`), { headers })
}

async function noSignal() {
  return (await caches.match(NONE, { cacheName: PAGES })) ?? Response.error()
}

// Nothing that was deleted stays here; what is left is fetched anew, for the next time without signal.
async function forget(event) {
  const answer = await fetch(event.request)
  if (answer.ok || answer.type === "opaqueredirect") {
    await Promise.all([caches.delete(PAGES), caches.delete(PICTURES)])
    event.waitUntil(takePages())
  }
  return answer
}
