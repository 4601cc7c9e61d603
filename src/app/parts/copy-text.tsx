import { useId, useRef, useState } from "react";

/** Text to take along when nothing else works: it can be copied by a button, or by hand when the frame forbids the clipboard. */
export function CopyText({ label, text, rows = 12 }: { label: string; text: string; rows?: number }) {
  const id = useId();
  const box = useRef<HTMLTextAreaElement>(null);
  const [said, setSaid] = useState("");
  const copy = async () => {
    box.current?.select();
    try {
      await navigator.clipboard.writeText(text);
      setSaid("Copied.");
    } catch {
      setSaid("The text is selected. Copy it with the keyboard.");
    }
  };
  return (
    <div className="copy">
      <label htmlFor={id}>{label}</label>
      <textarea id={id} ref={box} readOnly rows={rows} value={text} />
      <p>
        <button type="button" onClick={copy}>
          Copy the text
        </button>{" "}
        <span role="status">{said}</span>
      </p>
    </div>
  );
}
