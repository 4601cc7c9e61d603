/**
 * The back of one hand, as the clinician looks at it; the left hand is the mirror image. A drawing for the pointer only:
 * the radio buttons beside it say the same to keyboard and screen reader.
 */
interface HandPictureProps {
  readonly side: string | undefined;
  readonly proposedSide: string | undefined;
  readonly digit: string | undefined;
  /** Proposed by the chart, not chosen. */
  readonly proposed: string | undefined;
  readonly onPick: (digit: string) => void;
}
interface Ray {
  readonly digit: string;
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly length: number;
  readonly turn: number;
}
// Right hand, back view, on a field of 260 by 270; the thumb is drawn first, so that it lies under the palm.
const RAYS: readonly Ray[] = [
  { digit: "thumb", x: 80, y: 128, width: 34, length: 112, turn: -42 },
  { digit: "index", x: 78, y: 50, width: 30, length: 122, turn: -8 },
  { digit: "middle", x: 113, y: 26, width: 31, length: 142, turn: -1 },
  { digit: "ring", x: 149, y: 42, width: 30, length: 130, turn: 6 },
  { digit: "little", x: 184, y: 86, width: 26, length: 100, turn: 15 },
];
const PALM =
  "M79 158 C72 176 72 196 80 216 C92 238 102 246 104 268 L186 268 C188 246 206 222 213 178 C208 160 192 150 168 148 C140 144 100 146 79 158 Z";
const PALM_EDGE =
  "M79 158 C75 168 73 177 73 187 M99 244 C103 251 104 259 104 268 M186 268 C188 246 206 222 213 178 M108 160 l4 8 M145 156 l1 9 M180 160 l-3 8";

export function HandPicture({ side, proposedSide, digit, proposed, onPick }: HandPictureProps) {
  const drawn = side ?? proposedSide ?? "right";
  return (
    <figure className="picture" aria-hidden="true">
      <svg viewBox="0 0 260 270" width="260" height="270" focusable="false">
        <title>Hand</title>
        <g transform={drawn === "left" ? "translate(260 0) scale(-1 1)" : undefined}>
          {RAYS.map((ray) => {
            const middle = ray.x + ray.width / 2;
            const tip = ray.length * 0.3;
            const state = ray.digit === digit ? "chosen" : ray.digit === proposed ? "proposed" : "";
            return (
              // biome-ignore lint/a11y/noStaticElementInteractions: pointer twin of the radio buttons
              <g
                key={ray.digit}
                className={`ray ${state}`}
                transform={`rotate(${ray.turn} ${middle} ${ray.y + ray.length})`}
                onClick={() => onPick(ray.digit)}
              >
                <rect className="skin" x={ray.x} y={ray.y} width={ray.width} height={ray.length} rx={ray.width / 2} />
                <path
                  className="tip"
                  d={`M${ray.x} ${ray.y + tip} V${ray.y + ray.width / 2} a${ray.width / 2} ${ray.width / 2} 0 0 1 ${ray.width} 0 V${ray.y + tip} Z`}
                />
                <rect
                  className="nail"
                  x={ray.x + ray.width * 0.24}
                  y={ray.y + 5}
                  width={ray.width * 0.52}
                  height={tip * 0.5}
                  rx={ray.width * 0.22}
                />
                <path
                  className="crease"
                  d={`M${ray.x + 5} ${ray.y + tip + 3} h${ray.width - 10} M${ray.x + 6} ${ray.y + ray.length * 0.56} h${ray.width - 12}`}
                />
              </g>
            );
          })}
          <path className="palm" d={PALM} />
          <path className="crease" d={PALM_EDGE} />
        </g>
      </svg>
      <figcaption>
        {side === undefined ? `Back of a ${drawn} hand; the side is not chosen yet` : `Back of the ${side} hand`}
      </figcaption>
    </figure>
  );
}
