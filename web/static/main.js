// Each module does one thing and is attached by a data- attribute; the pages work without any of them.
import { keepBack } from "./back.js"
import { markCorners } from "./corners.js"
import { savePicture } from "./save.js"
import { sendWithProgress } from "./send.js"
import { showThumbs } from "./thumbs.js"

function attach(root) {
  root.querySelectorAll("[data-photo-field]").forEach(showThumbs)
  root.querySelectorAll("[data-photo-field]").forEach(markCorners)
  root.querySelectorAll("[data-send]").forEach((form) => sendWithProgress(form, showPage))
  root.querySelectorAll("[data-save]").forEach(savePicture)
  root.querySelectorAll("[data-back]").forEach(keepBack)
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
if (document.querySelector("[data-focus]")) focusOn(document.querySelector("main"))
