// Makes the way back lead to the form as it was left, photos included, when the answer came by script.
export function keepBack(link) {
  link.addEventListener("click", (event) => {
    if (!history.state?.answer) return
    event.preventDefault()
    history.back()
  })
}
