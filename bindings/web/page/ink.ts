// Paper, ink and one red for light: the same as in the drawings of `spotwright layout`.

export interface Ink {
  paper: string;
  ink: string;
  grey: string;
  pale: string; // rules and grids
  steel: string; // housings
  glass: string;
  light: string; // the red
  beam: string; // light that goes to the part
  cone: string; // light that comes back
  near: string;
  far: string;
}

export const day: Ink = {
  paper: "#ffffff",
  ink: "#1c2430",
  grey: "#5d6673",
  pale: "#c3c9d1",
  steel: "#eceff2",
  glass: "#d9e4ea",
  light: "#a63d26",
  beam: "#efb8a5",
  cone: "#fae5d6",
  near: "#17577a",
  far: "#77560c",
};

export const night: Ink = {
  paper: "#171c24",
  ink: "#e8ebef",
  grey: "#a7b0bc",
  pale: "#465060",
  steel: "#2a323d",
  glass: "#33434f",
  light: "#f0836a",
  beam: "#7a3a2c",
  cone: "#43302a",
  near: "#7fbbdd",
  far: "#d8b25c",
};

const dark = matchMedia("(prefers-color-scheme: dark)");

export function inks(): Ink {
  return dark.matches ? night : day;
}

/** Style of a drawing, in the page as in a picture that is taken away. */
export function drawing_style(ink: Ink): string {
  return `
.dr{font-family:system-ui,"Liberation Sans",sans-serif;font-size:12px}
.dr text{fill:${ink.ink}}
.dr text.note,.dr text.dim{fill:${ink.grey}}
.dr text.halo,.dr .tag text{stroke:${ink.paper};stroke-width:4px;stroke-linejoin:round;paint-order:stroke}
.dr .thin{fill:none;stroke:${ink.grey};stroke-width:.8}
.dr .edge{fill:none;stroke:${ink.ink};stroke-width:1.2}
.dr .part{fill:none;stroke:${ink.ink};stroke-width:3;stroke-linejoin:round}
.dr .back{fill:none;stroke:${ink.ink};stroke-width:1.4}
.dr .body{stroke:none}
.dr .hatch{stroke:${ink.grey};stroke-width:.8}
.dr .steel{fill:${ink.steel};stroke:${ink.grey};stroke-width:1}
.dr .glass{fill:${ink.glass};stroke:${ink.ink};stroke-width:1.2}
.dr .stop{fill:none;stroke:${ink.ink};stroke-width:3}
.dr .array{fill:none;stroke:${ink.ink};stroke-width:4}
.dr .beam{fill:${ink.beam};stroke:none}
.dr .cone{fill:${ink.cone};stroke:none}
.dr .rim{fill:none;stroke:${ink.light};stroke-width:.7}
.dr .light{fill:none;stroke:${ink.light};stroke-width:1.8}
.dr .mirror{fill:none;stroke:${ink.light};stroke-width:1.6;stroke-dasharray:7 4}
.dr .lost{stroke:${ink.light};stroke-width:2;fill:none}
.dr .spot{fill:${ink.light};stroke:${ink.paper};stroke-width:1}
.dr .axis{fill:none;stroke:${ink.ink};stroke-width:.9;stroke-dasharray:16 3 2.5 3}
.dr .near{fill:none;stroke:${ink.near};stroke-width:1.3;stroke-dasharray:9 4}
.dr .far{fill:none;stroke:${ink.far};stroke-width:1.5;stroke-dasharray:1.6 3.4}
.dr text.of-near{fill:${ink.near}}
.dr text.of-far{fill:${ink.far}}
.dr .dot{fill:${ink.paper};stroke:${ink.ink};stroke-width:1.2}
.dr .dot.near{stroke:${ink.near};stroke-dasharray:none;fill:${ink.paper}}
.dr .dot.far{stroke:${ink.far};stroke-dasharray:none;fill:${ink.paper}}
.dr .ghost .part,.dr .ghost .light,.dr .ghost .array{stroke:${ink.grey};stroke-width:1.2;stroke-dasharray:3 3}
.dr .ghost .spot{fill:${ink.grey}}
.dr .change{fill:none;stroke:${ink.light};stroke-width:1.4}
.dr text.changed{fill:${ink.light};font-weight:600}
.dr .loupe{fill:${ink.paper};stroke:${ink.ink};stroke-width:1.2}
.dr .pixel{stroke:${ink.pale};stroke-width:.4}
`;
}
