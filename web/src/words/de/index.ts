// All German sentences, a file for each part of the pages.
const parts = import.meta.glob<Record<string, string>>("./*.json", { eager: true, import: "default" });

export default Object.assign({}, ...Object.values(parts)) as Record<string, string>;
