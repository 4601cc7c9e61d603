/** The end bone of a finger from the side, nail up, tip to the right. Pointer twin of the site radio buttons. */
interface BonePictureProps {
  readonly site: string | undefined;
  readonly proposed: string | undefined;
  /** Site values that the question offers; a zone without a value is not drawn as one. */
  readonly offered: readonly string[];
  readonly onPick: (site: string) => void;
}
interface Zone {
  readonly site: string;
  readonly path: string;
  readonly label: string;
  readonly at: readonly [x: number, y: number];
}
const SKIN =
  "M8 66 C40 52 84 44 128 40 C170 38 214 36 262 38 C318 42 356 62 364 96 C370 136 330 160 264 164 C196 168 120 164 8 168";
const NAIL = "M196 42 C240 30 300 32 352 62 L350 68 C300 42 244 42 198 50 Z";
const MIDDLE_BONE = "M8 84 C50 90 74 84 92 80 C114 78 122 92 122 110 C122 130 112 142 92 140 C72 138 50 134 8 138 Z";
const ZONES: readonly Zone[] = [
  {
    site: "base-dorsal",
    path: "M128 70 C138 64 152 66 162 74 L152 92 L134 94 C132 86 130 78 128 70 Z",
    label: "top edge",
    at: [136, 60],
  },
  {
    site: "base-central",
    path: "M134 94 L152 92 L152 126 L134 124 C137 114 137 104 134 94 Z",
    label: "middle of the joint",
    at: [143, 113],
  },
  {
    site: "base-volar",
    path: "M134 124 L152 126 L162 144 C152 154 138 154 128 148 C131 140 133 132 134 124 Z",
    label: "palm edge",
    at: [136, 168],
  },
  {
    site: "physis",
    path: "M152 92 L162 74 L172 79 L163 94 L163 125 L172 139 L162 144 L152 126 Z",
    label: "growth plate",
    at: [160, 110],
  },
  {
    site: "base-extra-articular",
    path: "M163 94 L172 79 C182 83 190 88 200 91 L200 129 C190 131 182 135 172 139 L163 125 Z",
    label: "base",
    at: [182, 112],
  },
  {
    site: "shaft",
    path: "M200 91 C230 98 254 98 282 94 L282 126 C254 122 230 122 200 129 Z",
    label: "shaft",
    at: [240, 114],
  },
  {
    site: "tuft",
    path: "M282 94 C296 84 316 82 326 92 C336 104 336 118 326 130 C316 138 296 136 282 126 Z",
    label: "tuft",
    at: [306, 114],
  },
];
const EDGES = ["base-dorsal", "base-volar"];

export function BonePicture({ site, proposed, offered, onPick }: BonePictureProps) {
  const marks = (value: string | undefined, zone: string) =>
    value === zone || (value === "base-both-sides" && EDGES.includes(zone));
  return (
    <figure className="picture bone" aria-hidden="true">
      <svg viewBox="0 20 380 166" width="380" height="166" focusable="false">
        <title>End bone from the side</title>
        <path className="skin" d={SKIN} />
        <path className="nail" d={NAIL} />
        <path className="still" d={MIDDLE_BONE} />
        {ZONES.filter((z) => offered.includes(z.site)).map((z) => (
          // biome-ignore lint/a11y/noStaticElementInteractions: pointer twin of the radio buttons
          <g
            key={z.site}
            className={`zone ${marks(site, z.site) ? "chosen" : marks(proposed, z.site) ? "proposed" : ""}`}
            onClick={() => onPick(z.site)}
          >
            <path className="hit" d={z.path} />
            <path className="bone" d={z.path} />
          </g>
        ))}
        <text x="40" y="114">
          middle bone
        </text>
        <text x="306" y="114" className="mid">
          tuft
        </text>
        <text x="240" y="114" className="mid">
          shaft
        </text>
        <text x="262" y="56" className="mid">
          nail
        </text>
        <text x="10" y="34">
          back of the finger
        </text>
        <text x="10" y="178">
          palm side
        </text>
      </svg>
      <figcaption>End bone from the side; the plain list says the same</figcaption>
    </figure>
  );
}
