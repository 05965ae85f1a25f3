// Thumbnails are fetched when their row comes near the window.

import "./talk.js";

const near = new IntersectionObserver((seen) => {
  for (const { target, isIntersecting } of seen) {
    if (!isIntersecting) continue;
    near.unobserve(target);
    const { version, tag } = target.dataset;
    for (const image of target.querySelectorAll("image")) {
      image.setAttribute("href", `/preview/${encodeURIComponent(version)}/${tag}/960?for=wall`);
    }
  }
}, { rootMargin: "600px" });

for (const row of document.querySelectorAll(".row")) near.observe(row);

// Coming back by the link at the head of a page leads to the same part of the wall.
try { sessionStorage.setItem("wall", location.search); } catch { /* not kept, then */ }
