// Before anything is painted: what needs the program is shown, so that it does not push the notes
// down later. If the program cannot run here, it is taken away again: nobody shall choose an
// instrument whose notes do not come. Written so that any browser can read it.
(function () {
var page = document.documentElement;
page.classList.add("scripted");
addEventListener("error", function () {
if (!page.hasAttribute("data-ready")) page.classList.remove("scripted");
});
})();
