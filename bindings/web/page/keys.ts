// Keys of the page. None acts while a text is typed.
import type { Dialogs } from "./dialogs";
import type { KeptPane } from "./kept";
import type { LessonView } from "./lesson-view";
import type { Store } from "./store";
import type { TimeBar } from "./timebar";

interface Parts {
  kept: KeptPane;
  time: TimeBar;
  lesson: LessonView;
  dialogs: Dialogs;
}

function typing(target: EventTarget | null): boolean {
  return (
    target instanceof HTMLElement &&
    (target.matches("input:not([type=range]):not([type=checkbox]), textarea, select") || target.isContentEditable)
  );
}

export function listen_to_page_keys(store: Store, parts: Parts): void {
  const plain: Record<string, () => void> = {
    t: () => store.adjust({ truth: !store.settings.truth }),
    g: () => store.adjust({ ghost: !store.settings.ghost }),
    k: () => parts.kept.keep(),
    u: () => store.undo(),
    r: () => store.redo(),
    l: () => store.adjust({ large: !store.settings.large }),
    p: () => parts.lesson.present(),
    "?": () => parts.dialogs.keys(),
  };
  // A digit predicts or tries in a lesson; else it brings back a kept state.
  for (let i = 0; i < 6; ++i) plain[String(i + 1)] = () => void (parts.lesson.choose(i) || parts.kept.recall(i));
  addEventListener("keydown", (event) => {
    if (event.defaultPrevented) return;
    const control = event.ctrlKey || event.metaKey;
    if (control && !event.altKey && !typing(event.target)) {
      const key = event.key.toLowerCase();
      if (key === "z" || key === "y") {
        event.preventDefault();
        if (key === "y" || event.shiftKey) store.redo();
        else store.undo();
      }
      return;
    }
    if (control || event.altKey || typing(event.target) || document.querySelector("dialog[open]")) return;
    if (event.key === "Escape") parts.lesson.escape();
    else if (event.key === "PageDown" && parts.lesson.open) (event.preventDefault(), parts.lesson.next());
    else if (event.key === "PageUp" && parts.lesson.open) (event.preventDefault(), parts.lesson.back());
    else if (
      event.key === " " &&
      !(event.target instanceof HTMLButtonElement) &&
      !(event.target as HTMLElement).matches?.("summary, input")
    ) {
      event.preventDefault();
      parts.time.toggle();
    } else if (plain[event.key.toLowerCase()]) {
      event.preventDefault();
      plain[event.key.toLowerCase()]?.();
    }
  });
}
