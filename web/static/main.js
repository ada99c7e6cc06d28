// Each module does one thing and is attached by a data- attribute; the pages work without any of them. What not every
// page needs is fetched where it can be.
import { keepForOffline } from "./offline.js"
import { showWaiting } from "./waits.js"

function attach(root) {
  const each = (marked, behave) => root.querySelectorAll(marked).forEach((place) => behave(place))
  each("[data-photo-field]", async (field) => (await import("./thumbs.js")).showThumbs(field))
  each("[data-corners-open]", async (button) => (await import("./corners.js")).markCorners(button))
  each("[data-back]", async (link) => (await import("./answer.js")).keepBack(link))
  each("[data-view]", async (form) => (await import("./view.js")).lookClose(form))
  each("[data-camera]", async (button) => (await import("./camera.js")).offerCamera(button))
  each("[data-handles]", async (form) => (await import("./handles.js")).dragCorners(form))
  each("[data-save]", async (button) => (await import("./answer.js")).savePicture(button))
  each("[data-send]", async (form) => (await import("./send.js")).sendWithProgress(form, showPage))
  each("[data-shot]", async (form) => (await import("./shots.js")).sendShots(form))
  each(".next a[href^='#shot_']", async (link) => (await import("./next.js")).shootNext(link))
  each("[data-read]", async (form) => (await import("./read.js")).readInBackground(form))
  each("[data-reading=started]", async (board) => (await import("./read.js")).watchReading(board))
  each("[data-later]", async (form) => (await import("./later.js")).sendLater(form))
  each("[data-waiting-board]", async (template) => (await import("./local.js")).showLocal(template))
  each("[data-forget]", async (form) => (await import("./later.js")).forgetHere(form))
}

// Puts a page that came by script in the place of the one on show. The form stays alive in memory, so going back
// finds the photos still chosen; a form that was refused takes them over.
function showPage(html) {
  const page = new DOMParser().parseFromString(html, "text/html")
  const fresh = document.adoptNode(page.querySelector("main"))
  const before = { main: document.querySelector("main"), title: document.title }
  if (fresh.querySelector("[data-send]")) {
    takeOverFiles(before.main, fresh)
  } else {
    history.pushState({ answer: true }, "")
    addEventListener("popstate", () => put(before.main, before.title), { once: true })
  }
  attach(fresh)
  put(fresh, page.title)
}

function takeOverFiles(before, fresh) {
  before.querySelectorAll("input[type=file]").forEach((input) => {
    fresh.querySelector(`#${input.id}`).files = input.files
  })
  before.querySelectorAll("[data-corners-value]").forEach((input) => {
    fresh.querySelector(`[data-corners-value][name=${input.name}]`).value = input.value
  })
  fresh.querySelector("[data-files-lost]")?.remove()
}

function put(main, title) {
  document.querySelector("main").replaceWith(main)
  document.title = title
  scrollTo(0, 0)
  focusOn(main)
}

function focusOn(main) {
  const place = main.querySelector("[data-focus]") ?? main
  place.focus({ preventScroll: true })
}

attach(document)
document.addEventListener("fresh", (event) => attach(event.detail))
document.querySelectorAll("[data-outbox]").forEach(showWaiting)
keepForOffline()
if (document.querySelector("[data-focus]")) focusOn(document.querySelector("main"))
