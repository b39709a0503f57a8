/** The address under which a built file is served. */
declare module "*.wasm?url" {
  const address: string;
  export default address;
}
