// The reader of codes, without its writer; codes.js loads it at the first use.
export {
  prepareZXingModule, purgeZXingModule, readBarcodes,
} from "zxing-wasm/reader";
