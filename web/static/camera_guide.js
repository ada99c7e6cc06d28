// The guide over the live picture: two pencil lines between which the board is to lie, and the tape of its marked end.
import { bandShare } from "./camera_sight.js"

const SVG = "http://www.w3.org/2000/svg"
const FROM = 0.05 // where the lines begin and end, as shares of the picture's longer side
const TO = 0.95
const BENDS = [0.001, -0.0008, 0.0005] // no hand draws quite straight

// The board runs along the longer side of the picture: marked end on the left, or at the bottom.
export function drawGuide(svg, width, height, wanted) {
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`)
  const long = Math.max(width, height)
  const place = (along, across) =>
    width >= height
      ? `${along * long} ${height / 2 + across * long}`
      : `${width / 2 + across * long} ${height - along * long}`
  const half = bandShare(wanted) / 2
  const line = (across) => {
    const bends = BENDS.map((bend, at) => place(FROM + ((TO - FROM) * (at + 1)) / BENDS.length, across + bend))
    return `M${place(FROM, across)} C${bends.join(" ")}`
  }
  const lines = `${line(-half)} ${line(half)}`
  const corners = [[0, -1], [1, -1], [1, 1], [0, 1]]
  const tape = corners.map(([far, side]) => place(FROM + far * 0.022, side * (half + 0.012)))
  const shapes = wanted.kind === "plain" ? [] : [["guide-under", lines], ["guide-line", lines]]
  if (wanted.kind === "whole") shapes.push(["guide-tape", `M${tape.join(" L")} Z`])
  svg.replaceChildren(...shapes.map(([look, path]) => drawn(look, path)))
}

function drawn(look, path) {
  const shape = document.createElementNS(SVG, "path")
  shape.setAttribute("class", look)
  shape.setAttribute("d", path)
  return shape
}
