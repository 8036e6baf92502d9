// Sets the equations of a page. Those that are wider than the page scroll by themselves (site.css).
document.addEventListener("DOMContentLoaded", () => {
    for (const place of document.querySelectorAll(".arithmatex")) {
        renderMathInElement(place, {
            delimiters: [{ left: "\\[", right: "\\]", display: true }, { left: "\\(", right: "\\)", display: false }],
            throwOnError: false,
        });
    }
});
