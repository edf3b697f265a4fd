/* The choice between a board as it is written and its variants: the page is made anew for each. */
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const find = (id) => document.getElementById(id);
  /* A version holds what differs from the first one, and numbers of what is listed once for all. */
  const versionOf = (own) => {
    const whole = { ...data.versions[0], ...own };
    return { ...whole, pool: whole.pool.map((i) => data.pool[i]), sections: whole.sections.map((i) => data.sections[i]) };
  };
  /* The names that were last seen on, whether the version that is shown has them or not. */
  const wanted = new Set();
  let shown = null, page = null, number = -1, leaving = new AbortController();

  const remember = () => {
    const { on } = page.now();
    shown.switches.forEach((name, i) => { if (on.has(i)) wanted.add(name); else wanted.delete(name); });
  };
  /* The same scene by its name; the first and the last button are every stage off and the worst. */
  const sameState = (version) => {
    if (shown === null) return 0;
    const { chosen } = page.now(), last = version.states.length - 1;
    if (chosen === shown.states.length - 1) return last;
    return Math.max(0, version.states.findIndex((state, i) => i < last && state.title === shown.states[chosen].title));
  };
  /* Elements without what the last version put into them, and without what it listens to there. */
  const renew = () => {
    ["scenes", "chain", "numbers", "contents", "sections"].forEach((id) => find(id).replaceWith(find(id).cloneNode(false)));
    ["ruler", "show-worst", "at"].forEach((id) => {
      const old = find(id), fresh = old.cloneNode(true);
      fresh.value = old.value;
      old.replaceWith(fresh);
    });
  };
  /* What the page listens to outside its own elements, as long as its version is shown. */
  const outside = ({ signal }) => ({
    addEventListener: (type, heard) => window.addEventListener(type, heard, { signal }),
    matchMedia: (query) => {
      const media = window.matchMedia(query);
      return { addEventListener: (type, heard) => media.addEventListener(type, heard, { signal }) };
    },
  });

  const choose = (index) => {
    if (index === number) return;
    const version = versionOf(data.versions[index]), state = sameState(version);
    if (page !== null) remember();
    leaving.abort();
    leaving = new AbortController();
    renew();
    [shown, number] = [version, index];
    document.title = document.querySelector("h1").textContent = version.title;
    find("changes").textContent = version.changes;
    buttons.forEach((button, i) => button.setAttribute("aria-pressed", String(i === index)));
    page = sigsimPage(version, outside(leaving));
    page.start(new Set(version.switches.flatMap((name, i) => (wanted.has(name) ? [i] : []))), state);
  };

  const buttons = data.versions.map((version, index) => {
    const button = document.createElement("button");
    button.type = "button";
    button.title = version.longName;
    button.textContent = version.name;
    button.addEventListener("click", () => choose(index));
    return button;
  });
  find("variants").append(...buttons);
  choose(0);
})();
