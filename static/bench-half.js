// Figures that were only half typed when the tablet fell asleep or the page was left. They are no readings: they are
// kept as text, at once, and asked about on waking.

export function halfTyped(job, staff, after) {
  const key = `thumbplane-half:${job}:${staff}`;
  return {
    /** `figures` are what was typed, by cell. */
    keep(figures) {
      try {
        if (Object.keys(figures).length) localStorage.setItem(key, JSON.stringify({ after, figures }));
        else localStorage.removeItem(key);
      } catch {
        // no room: what was half typed is typed again
      }
    },
    /** What was kept, once; of an earlier set nothing. */
    take() {
      try {
        const kept = JSON.parse(localStorage.getItem(key));
        localStorage.removeItem(key);
        return kept?.after === after ? kept.figures : {};
      } catch {
        return {};
      }
    },
  };
}
