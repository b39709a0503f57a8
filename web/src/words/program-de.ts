// What the engine says in German: the catalogues of the Go program, for its copy in the browser.
const parts = import.meta.glob<Record<string, string>>("../../../internal/words/de/*.json", {
  eager: true,
  import: "default",
});

export default Object.assign({}, ...Object.values(parts)) as Record<string, string>;
