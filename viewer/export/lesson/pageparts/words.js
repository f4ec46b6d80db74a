// The words of a step. Every text of a lesson comes through `make` or `paragraphs`, which put it on as text.
function make(tag, text, kind) {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

// With the direction of its own letters; a list has that of its first item, where its marks stand.
function told(tag, text, kind) {
  const made = make(tag, text, kind);
  made.dir = "auto";
  return made;
}

function paragraphs(list, sources) {
  const made = [];
  for (const paragraph of list) {
    const line = paragraph.item ? make("li") : told("p");
    paragraph.runs.forEach((run, i) => {
      if (typeof run === "string") {
        line.append(run);
        return;
      }
      // Two numbers side by side are not one.
      const follows = typeof paragraph.runs[i - 1] === "number";
      const mark = make("sup", String(run), follows ? "more" : undefined);
      mark.title = sources[run - 1];
      line.append(mark);
    });
    const last = made[made.length - 1];
    if (!paragraph.item) made.push(line);
    else if (last && last.tagName === "UL") last.append(line);
    else {
      made.push(told("ul"));
      made[made.length - 1].append(line);
    }
  }
  return made;
}

function sourceList(step, count) {
  if (!count) return [];
  const list = told("ol", undefined, "sources");
  step.sources.slice(0, count).forEach((source) => list.append(make("li", source)));
  return [make("h3", "Sources"), list];
}

function mapOf(step, name) {
  if (!step.map) return [];
  const figure = make("figure", undefined, "map");
  const image = make("img");
  image.src = step.map[name];
  image.alt = step.map.says;
  figure.append(image, make("figcaption", step.map.caution));
  return [make("h3", "The skin that it serves"), figure];
}

function opening() {
  const box = make("section", undefined, "opening");
  const steps = `${held.steps.length} step${held.steps.length === 1 ? "" : "s"}`;
  if (held.about) box.append(told("p", held.about));
  box.append(make("p", `For a ${held.level}, ${held.minutes} minutes, ${steps}.`, "facts"));
  box.append(make("h3", "Afterwards you can"));
  const list = told("ul");
  held.objectives.forEach((objective) => list.append(make("li", objective)));
  box.append(list);
  return box;
}

function questionOf(step, revealed, reveal) {
  if (!step.question && !step.answer.length) return [];
  const box = make("section", undefined, "question");
  box.append(make("h3", "Question"));
  if (step.question) box.append(told("p", step.question, "asked"));
  if (!step.answer.length) return [box];
  if (!revealed) {
    const button = make("button", "Show the answer");
    button.type = "button";
    button.id = "fp-answer";
    button.addEventListener("click", reveal);
    box.append(button);
  } else {
    const heading = make("h3", "Answer");
    heading.id = "fp-answered";
    heading.tabIndex = -1;
    box.append(heading, ...paragraphs(step.answer, step.sources));
  }
  return [box];
}

// What stands beside a step.
function stepWords(step, index, revealed, reveal) {
  const shown = revealed || !step.answer.length ? step.sources.length : step.first;
  return [
    make("p", `Step ${index + 1} of ${held.steps.length}`, "of"), told("h2", step.title),
    ...(index === 0 ? [opening()] : []),
    ...paragraphs(step.words, step.sources), ...questionOf(step, revealed, reveal),
    ...mapOf(step, dark.matches ? "dark" : "light"), ...sourceList(step, shown),
  ];
}

// Everything, one step under the other, for paper.
function printed() {
  const head = make("section", undefined, "printed");
  head.append(told("h1", held.title), opening(), make("p", held.caution));
  const steps = held.steps.map((step, index) => {
    const box = make("section", undefined, "printed");
    const image = make("img", undefined, "shown");
    image.src = held.pictures[step.picture];
    image.alt = step.seen;
    box.append(
      told("h2", `${index + 1}. ${step.title}`), image, told("p", step.seen, "of"),
      ...paragraphs(step.words, step.sources), ...questionOf(step, true), ...mapOf(step, "light"),
      ...sourceList(step, step.sources.length), make("p", held.caution, "of"),
    );
    box.querySelectorAll("[id]").forEach((one) => one.removeAttribute("id"));
    return box;
  });
  return [head, ...steps];
}
