// Lets the app open without signal, says when a page is an old one, and drops what waits when all is forgotten.
import { outbox } from "./outbox.js"
import { made } from "./progress.js"

export function keepForOffline() {
  // There on https and localhost alone; a phone that reaches the app by plain HTTP does without.
  navigator.serviceWorker?.register("/sw.js").catch(() => null)
  if (document.documentElement.dataset.old === undefined) return
  const words = made("p", "notice", "No signal: this page is as it was when you last opened it.")
  words.role = "status"
  document.querySelector("main").prepend(words)
}

export function forgetHere(form) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault()
    const short = new Promise((resolve) => setTimeout(resolve, 2000)) // it must not keep anyone from deleting
    await Promise.race([outbox.dropAll(), short]).catch(() => null)
    form.submit()
  })
}
