/** The address of a style sheet that a room asks for when it opens. */
declare module "*.css?url" {
  const address: string;
  export default address;
}
