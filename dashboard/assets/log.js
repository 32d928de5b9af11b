// Logs chosen on a page: too large a one is refused here; the others are sent one by one, and the page keeps the words they are kept under.
window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.ridesim_log = (function () {
  var dc = window.dash_clientside, last = {}, refused = {};
  function stem(id) { return id.replace(/upload$/, ""); }
  function rule(id) { return document.getElementById(id).closest(".log-upload").dataset; }
  function tooLarge(file, given) {
    return file.name + " (" + (file.size / 1e6).toFixed(1) + " MB) is larger than " + given.largestWords +
      ", the most for a page. Cut it to the ride you mean, or use the command line (ridesim log), which takes 200 MB.";
  }
  function bytes(contents) {
    var text = window.atob(contents.slice(contents.indexOf(",") + 1)), data = new Uint8Array(text.length);
    for (var n = 0; n < text.length; n += 1) { data[n] = text.charCodeAt(n); }
    return data;
  }
  function files(contents, names) {
    var every = Array.isArray(contents) ? contents : [contents];
    var called = Array.isArray(names) ? names : [names];
    return every.map(function (one, n) { return { name: called[n], data: bytes(one) }; })
      .sort(function (a, b) { return a.name.localeCompare(b.name, undefined, { numeric: true }); });
  }
  function send(file, path, hand) {
    var asked = new URLSearchParams(Object.assign({ name: file.name }, hand));
    return fetch(path + "?" + asked, { method: "POST", body: file.data, headers: { "Content-Type": "application/octet-stream" } })
      .then(function (answer) {
        var told = (answer.headers.get("Content-Type") || "").indexOf("json") >= 0;
        return told ? answer.json() : { error: file.name + " could not be sent (" + answer.status + "). Open this page again." };
      }, function () { return { error: file.name + " could not be sent: is the program still running?" }; });
  }
  // The picker and a drop are looked at before the page library, which leaves out what is too large without a word.
  function look(event) {
    var box = event.target.closest && event.target.closest(".log-upload");
    var list = event.dataTransfer ? event.dataTransfer.files : event.target.files;
    if (!box || !list) { return; }
    var at = stem(box.firstElementChild.id);
    refused[at] = Array.from(list).filter(function (f) { return f.size > Number(box.dataset.largest); })
      .map(function (f) { return tooLarge(f, box.dataset); });
    if (refused[at].length) { dc.set_props(at + "open-error", { children: refused[at].join("\n") }); }
  }
  document.addEventListener("change", look, true);
  document.addEventListener("drop", look, true);

  return {
    chosen: async function (contents, again, names, kept, id, ...typed) {
      var none = dc.no_update, at = stem(id), given = rule(id), most = Number(given.most);
      var repeat = dc.callback_context.triggered_id === at + "again";
      var list = repeat ? (last[at] || {}).files : contents && files(contents, names);
      if (repeat && !again) { return [none, none, none, none, none, none]; }
      if (!list) { return [none, repeat ? "Choose the file again." : none, none, none, none, none]; }
      var old = repeat ? last[at].words : [], before = Array.isArray(kept) ? kept : [], words = [], opened = [];
      var told = repeat ? [] : refused[at] || [];
      var stay = most === 1 ? [] : before.filter(function (one) { return old.indexOf(one.kept) < 0; });
      var hand = {};
      given.hand.split(",").forEach(function (name, n) { if (typed[n]) { hand[name] = typed[n]; } });
      for (var n = 0; n < list.length; n += 1) {
        if (stay.length + opened.length >= most) {
          told = told.concat(list.slice(n).map(function (f) { return f.name + " is left out: " + most + " at most at once."; }));
          break;
        }
        dc.ridesim.put(at + "reading", { children: "Reading " + list[n].name + " …" });
        var answer = await send(list[n], given.path, hand);
        if (answer.error) { told = told.concat([answer.error]); } else { opened.push(answer); words.push(answer.kept); }
      }
      last[at] = { files: list, words: words };
      refused[at] = [];
      var fresh = opened.length ? stay.concat(opened) : none;
      var whole = opened.length && most === 1 && before.length ? "" : none;  // another log has other seconds
      return [fresh, told.join("\n"), "", null, whole, whole];
    }
  };
})();
