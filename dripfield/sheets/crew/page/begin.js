const data = JSON.parse(document.getElementById("data").textContent);
const byId = (id) => document.getElementById(id);
const kept = { language: data.languages[0], lateral: null, mark: null, markName: null, backsight: null, log: [] };
let chosen = 0;
