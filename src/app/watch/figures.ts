/**
 * How long an unattended page stays open, and how early an end is told. Whoever walks away from an open chart leaves it to
 * the next person; a figure that all agree on does not exist. [common practice, no source]
 */
export const LOCK_AFTER_MINUTES = 10;
/** Told so long before the page is covered, and before the sign-in ends (WCAG 2.2 criterion 2.2.1 asks for at least 20 seconds). */
export const WARN_BEFORE_SECONDS = 120;
/** Between two looks for a newer program. */
export const VERSION_EVERY_MINUTES = 15;
/** Between two looks at the clocks. */
export const TICK_SECONDS = 5;
