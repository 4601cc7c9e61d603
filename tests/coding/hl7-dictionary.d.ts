/** The part of the dictionary that the tests read: segments and tables of HL7 v2 by version. */
declare module "hl7-dictionary" {
  interface Field {
    readonly desc: string;
    /** 2: required. */
    readonly opt: number;
  }
  const dictionary: {
    readonly definitions: {
      readonly [version: string]: {
        readonly segments: { readonly [name: string]: { readonly fields: readonly Field[] } };
      };
    };
    readonly tables: { readonly [number: string]: { readonly values: { readonly [code: string]: string } } };
  };
  export default dictionary;
}
