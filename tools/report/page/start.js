document.documentElement.classList.add("scripted");
document.querySelectorAll("table").forEach(sortableTable);
document.querySelectorAll("svg[data-tips], svg[data-grid]").forEach(chartTips);
const replay = document.getElementById("replay");
if (replay) {
  startReplay(replay).catch(() => {
    document.getElementById("replay-fault").hidden = false;
  });
}
