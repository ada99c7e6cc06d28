// What the server tells line by line while it reads: each line is one piece of JSON.
export const LINES = "application/x-ndjson"

// The lines that have arrived whole; a page that came instead of lines has none.
export function whole(request) {
  if (!isLines(request)) return []
  return request.responseText.split("\n").slice(0, -1).map((line) => JSON.parse(line))
}

export function isLines(request) {
  return request.getResponseHeader("Content-Type")?.startsWith(LINES)
}

// What a program would be told: an object, or null for whatever else came, such as the login page of a shop's Wi-Fi.
export function told(request) {
  try {
    const content = JSON.parse(request.responseText)
    return content && typeof content === "object" ? content : null
  } catch {
    return null
  }
}
