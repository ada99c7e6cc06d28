// Lets the app open without signal, and says when a page is an old one.
import { freshen } from "./fresh.js"
import { made } from "./progress.js"
import { say } from "./words.js"

export async function keepForOffline() {
  // There on https and localhost alone; a phone that reaches the app by plain HTTP does without.
  navigator.serviceWorker?.register("/sw.js").catch(() => null)
  const { early, old } = document.documentElement.dataset
  if (early === undefined && old === undefined) return
  if (early !== undefined) {
    const fresh = await freshen()
    document.documentElement.dataset.early = "over" // nothing is put in the place of anything any more
    if (fresh) return
  }
  const words = made("p", "notice", say("No signal: this page is as it was when you last opened it."))
  words.role = "status"
  document.querySelector("main").prepend(words)
}
