// Says a text in the language of the page, which carries those of the scripts when it is not English.
const words = JSON.parse(document.getElementById("words")?.textContent ?? "{}")

export function say(text, values = {}) {
  return (words[text] ?? text).replace(/\{(\w+)\}/g, (place, name) => values[name] ?? place)
}
