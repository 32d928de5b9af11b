// Undo and redo: the links of the states the rider has been through, in the store of this tab. Units are a way of reading, not a change.
window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.ridesim_history = (function () {
  var dc = window.dash_clientside, STORE = "ridesim-history", MOST = 50, LONGEST = 1500000, TOGETHER = 800, RESTS = 200, ECHOES = 5, LOST = 5000;
  var kept = { past: [], at: null, future: [] }, last = { keys: "", at: 0 }, told = "", shown = null, waits = false, filling = 0, opened = null, touched = true, echoes = 0;
  try { kept = JSON.parse(window.sessionStorage.getItem(STORE)) || kept; } catch (e) { /* no store: undo lasts as long as the page */ }

  function parts(query) { return (query || "").replace(/^\?/, "").split("&").filter(Boolean); }
  function joined(list) { return list.length ? "?" + list.join("&") : ""; }
  function isUnits(part) { return part.split("=")[0] === "units"; }
  function bare(query) { return joined(parts(query).filter(function (part) { return !isUnits(part); })); }
  function withUnits(query, shown) { return joined(parts(query).concat(parts(shown).filter(isUnits))); }
  function buildOf(query) {
    return parts(query).filter(function (part) { return /^(build|revision|own)=/.test(part); }).sort().join("&");
  }
  function changed(one, other) {  // the keys in which two links differ
    var a = parts(one), b = parts(other), differ = a.filter(function (p) { return b.indexOf(p) < 0; })
      .concat(b.filter(function (p) { return a.indexOf(p) < 0; })).map(function (p) { return p.split("=")[0]; });
    return Array.from(new Set(differ)).sort().join();
  }
  function length(list) { return list.reduce(function (sum, one) { return sum + one.length; }, 0); }
  function keep() {
    while (kept.past.length > MOST || (kept.past.length && length(kept.past) + length(kept.future) > LONGEST)) { kept.past.shift(); }
    try { window.sessionStorage.setItem(STORE, JSON.stringify(kept)); } catch (e) { /* full or none */ }
    var now = [!kept.past.length, !kept.future.length];
    if (String(now) === told) { return; }
    told = String(now);
    dc.ridesim.put("undo", { disabled: now[0] });
    dc.ridesim.put("redo", { disabled: now[1] });
  }
  // what is typed or dragged in one go is one step
  function note(query) {
    var next = bare(query), time = Date.now(), keys = changed(kept.at, next), step = next === opened;
    if (step) {
      opened = null;
      window.requestAnimationFrame(function () { setTimeout(rested, RESTS, filling); });
    }
    if (waits && (step || !touched)) { return; }  // another step is on the way
    waits = false;
    if (!touched && next !== kept.at && echoes < ECHOES) {  // nobody typed that: fill the fields once more when they have rested
      echoes += 1;
      waits = true;
      filling = filling || setTimeout(rested, RESTS);
      return;
    }
    if (kept.at !== null && next !== kept.at) {
      if (!(keys === last.keys && time - last.at < TOGETHER)) { kept.past.push(kept.at); }
      kept.future = [];
      last = { keys: keys, at: time };
      if (next === kept.past[kept.past.length - 1]) {  // there and back in one go is no step
        kept.past.pop();
        last = { keys: "", at: 0 };
      }
    }
    kept.at = next;
    keep();
  }
  function step(from, to) {
    if (!from.length) { return; }
    to.push(kept.at);
    kept.at = from.pop();
    last = { keys: "", at: 0 };
    keep();
    waits = true;
    touched = false;
    echoes = 0;
    if (!filling) { open(); }
  }
  // A field that is filled tells its value once more (glue.js): filled anew before that, it would take the new one back.
  function open() {
    waits = false;
    opened = kept.at;
    filling = setTimeout(rested, LOST);
    dc.set_props("link", { data: withUnits(kept.at, shown) });
  }
  function rested(one) {
    if (one && one !== filling) { return; }
    clearTimeout(filling);
    filling = 0;
    if (waits) { open(); }
  }
  function undo() { step(kept.past, kept.future); }
  function redo() { step(kept.future, kept.past); }

  // whether to go on although a build that is saved nowhere leaves the screen
  function asked() {
    return new Promise(function (settle) {
      var box = document.createElement("dialog"), text = document.createElement("p"), row = document.createElement("div");
      text.textContent = "The open build has changes that are not saved. Replace it? Undo would bring it back.";
      row.className = "buttons";
      [["Keep mine", ""], ["Replace it", "yes"]].forEach(function (one) {
        var button = document.createElement("button");
        button.textContent = one[0];
        button.className = "button";
        button.addEventListener("click", function () { box.close(one[1]); });
        row.append(button);
      });
      box.className = "ask";
      box.setAttribute("aria-label", "Replace the open build?");
      box.append(text, row);
      box.addEventListener("close", function () { box.remove(); settle(box.returnValue === "yes"); });
      document.body.append(box);
      box.showModal();
    });
  }
  // edited and not saved: a build in the link itself, or one of the garage with other parts under Now
  function unsaved(query) {
    return /[?&]own=/.test(query) || (/[?&]revision=/.test(query) && /[?&](front|rear|rear-tire|front-tire|tune|luggage)=/.test(query));
  }
  function mayOpen(query) {
    var lost = unsaved(kept.at || "") && buildOf(query) !== buildOf(kept.at);
    return lost ? asked() : Promise.resolve(true);
  }

  ["pointerdown", "click", "keydown", "input", "paste", "drop"].forEach(function (kind) {
    document.addEventListener(kind, function () { touched = true; }, true);
  });
  document.addEventListener("keydown", function (event) {
    var key = event.key.toLowerCase(), at = document.activeElement;
    if (!(event.ctrlKey || event.metaKey) || event.altKey || (key !== "z" && key !== "y")) { return; }
    if (at && (at.isContentEditable || at.closest("dialog, textarea, input:not([type=checkbox]):not([type=radio]):not([type=file])"))) { return; }
    event.preventDefault();
    if (key === "y" || event.shiftKey) { redo(); } else { undo(); }
  });

  // Back and Forward turn the page; the build stays as the screen shows it, and the address says so.
  window.addEventListener("popstate", function (event) {
    if (event.isTrusted && shown !== null) {
      window.history.replaceState(window.history.state, "", window.location.pathname + shown + window.location.hash);
    }
  });

  return {
    note: function (query) { shown = query; note(query); },
    undo: function (clicks) { if (clicks) { undo(); } },
    redo: function (clicks) { if (clicks) { redo(); } },
    may_open: mayOpen,
    // another build in place of the open one, unless the rider would rather keep it
    replace: async function (link, query) {
      if (!link) { return dc.no_update; }
      return await mayOpen(link) ? link : query;
    }
  };
})();
