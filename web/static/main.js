// Each module does one thing and is attached by a data- attribute; the pages work without any of them.
import { showThumbs } from "./thumbs.js"
import { sendWithProgress } from "./send.js"
import { keepBack } from "./back.js"

export function attach(root) {
  root.querySelectorAll("[data-photo-field]").forEach(showThumbs)
  root.querySelectorAll("[data-send]").forEach((form) => sendWithProgress(form, showPage))
  root.querySelectorAll("[data-back]").forEach(keepBack)
  root.querySelector("[data-focus]")?.focus()
}

// Puts a page that came by script in the place of the one on show. The form stays alive in memory, so going back
// finds the photos still chosen.
function showPage(html) {
  const page = new DOMParser().parseFromString(html, "text/html")
  const main = document.querySelector("main")
  const fresh = document.adoptNode(page.querySelector("main"))
  const before = { main, title: document.title }
  history.pushState({ answer: true }, "")
  addEventListener("popstate", () => put(before.main, before.title), { once: true })
  put(fresh, page.title)
  attach(fresh)
}

function put(main, title) {
  document.querySelector("main").replaceWith(main)
  document.title = title
  scrollTo(0, 0)
  const focused = main.querySelector("[data-focus]") ?? main
  focused.focus({ preventScroll: true })
}

attach(document)
