// The bench in words: a text that follows it, for whoever does not see the picture.
import type { Asker } from "./asker";
import { fixed, significant } from "./format";
import type { Store } from "./store";
import { type TextName, shape_names, t } from "./texts";

export function account_of(store: Store, asker: Asker): string {
  const view = asker.answers.view;
  if (!view) return t("starting");
  const { scene, look } = view;
  const material = store.word("target.material").replace(/-/g, " ");
  const shape = shape_names[store.word("target.shape")] ?? store.word("target.shape");
  const says = [
    store.settings.truth
      ? t("account_part", {
          material,
          shape,
          mm: fixed(scene.displacement_mm, 3),
          tilt: fixed(store.number("target.tilt_deg"), 1),
        })
      : t("account_part_hidden", { material, shape }),
  ];
  if (look.kind === "array") {
    says.push(
      t("account_mount", {
        emitter: fixed(store.number("emitter.angle_deg"), 1),
        receiver: fixed(store.number("receiver.angle_deg"), 1),
      }),
    );
    let most = 0;
    for (const each of look.frame_e) most = Math.max(most, each);
    const peaks = look.peaks.length === 1 ? t("account_one_peak") : t("account_peaks", { count: look.peaks.length });
    says.push(t("account_light", { share: significant((100 * most) / look.full_well_e, 2), peaks }));
  } else says.push(t("account_flight", { mm: fixed(store.number("mount.reference_distance_mm"), 0) }));
  says.push(
    look.reading_mm === null
      ? t("account_none", { why: t(`validity_${look.validity}` as TextName) })
      : t("account_reading", { mm: fixed(look.reading_mm, 4) }),
  );
  if (scene.reflection && scene.reflection.misses_lens_mm > 0 && look.reading_mm === null)
    says.push(t("account_mirror"));
  const read = asker.answers.read;
  if (read && !asker.answers.busy.read) says.push(t("account_verdict", { level: t(read.sentences.level) }));
  return says.join(" ");
}
