/** The place of the patient's name before it is read, or when it could not be. */
export function NoPatient({ reading }: { reading: boolean }) {
  return (
    <section className={`banner ${reading ? "waiting" : "stopped"}`} aria-label="Patient">
      <p className="who">Patient</p>
      <p>
        {reading
          ? "Reading the patient from the chart"
          : "The patient could not be read. Nothing can be signed until it can."}
      </p>
    </section>
  );
}
