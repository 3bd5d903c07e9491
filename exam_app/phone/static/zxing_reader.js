/*
Bundled without changes from zxing-wasm; zxing_reader.wasm is its own file,
compiled from zxing-cpp (Apache License 2.0) and stb_image (public domain).

MIT License

Copyright (c) 2023 Ze-Zheng Wu

Permission is hereby granted, free of charge, to any person obtaining a copy
of this software and associated documentation files (the "Software"), to deal
in the Software without restriction, including without limitation the rights
to use, copy, modify, merge, publish, distribute, sublicense, and/or sell
copies of the Software, and to permit persons to whom the Software is
furnished to do so, subject to the following conditions:

The above copyright notice and this permission notice shall be included in all
copies or substantial portions of the Software.

THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR
IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY,
FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE
AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM, DAMAGES OR OTHER
LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM,
OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE
SOFTWARE.

*/
// zxing-wasm/dist/es/share.js
var e = [
  [
    "All",
    "*",
    "*",
    "     ",
    0,
    "All"
  ],
  [
    "AllReadable",
    "*",
    "r",
    "     ",
    0,
    "All Readable"
  ],
  [
    "AllCreatable",
    "*",
    "w",
    "     ",
    0,
    "All Creatable"
  ],
  [
    "AllLinear",
    "*",
    "l",
    "     ",
    0,
    "All Linear"
  ],
  [
    "AllMatrix",
    "*",
    "m",
    "     ",
    0,
    "All Matrix"
  ],
  [
    "AllGS1",
    "*",
    "G",
    "     ",
    0,
    "All GS1"
  ],
  [
    "AllRetail",
    "*",
    "R",
    "     ",
    0,
    "All Retail"
  ],
  [
    "AllIndustrial",
    "*",
    "I",
    "     ",
    0,
    "All Industrial"
  ],
  [
    "Codabar",
    "F",
    " ",
    "lrw  ",
    18,
    "Codabar"
  ],
  [
    "Code39",
    "A",
    " ",
    "lrw I",
    8,
    "Code 39"
  ],
  [
    "Code39Std",
    "A",
    "s",
    "lrw I",
    8,
    "Code 39 Standard"
  ],
  [
    "Code39Ext",
    "A",
    "e",
    "lr  I",
    9,
    "Code 39 Extended"
  ],
  [
    "Code32",
    "A",
    "2",
    "lr  I",
    129,
    "Code 32"
  ],
  [
    "PZN",
    "A",
    "p",
    "lr  I",
    52,
    "Pharmazentralnummer"
  ],
  [
    "Code93",
    "G",
    " ",
    "lrw I",
    25,
    "Code 93"
  ],
  [
    "Code128",
    "C",
    " ",
    "lrwGI",
    20,
    "Code 128"
  ],
  [
    "ITF",
    "I",
    " ",
    "lrw I",
    3,
    "ITF"
  ],
  [
    "ITF14",
    "I",
    "4",
    "lr  I",
    89,
    "ITF-14"
  ],
  [
    "DataBar",
    "e",
    " ",
    "lr GR",
    29,
    "DataBar"
  ],
  [
    "DataBarOmni",
    "e",
    "o",
    "lr GR",
    29,
    "DataBar Omni"
  ],
  [
    "DataBarStk",
    "e",
    "s",
    "lr GR",
    79,
    "DataBar Stacked"
  ],
  [
    "DataBarStkOmni",
    "e",
    "O",
    "lr GR",
    80,
    "DataBar Stacked Omni"
  ],
  [
    "DataBarLtd",
    "e",
    "l",
    "lr GR",
    30,
    "DataBar Limited"
  ],
  [
    "DataBarExp",
    "e",
    "e",
    "lr GR",
    31,
    "DataBar Expanded"
  ],
  [
    "DataBarExpStk",
    "e",
    "E",
    "lr GR",
    81,
    "DataBar Expanded Stacked"
  ],
  [
    "EANUPC",
    "E",
    " ",
    "lr  R",
    15,
    "EAN/UPC"
  ],
  [
    "EAN13",
    "E",
    "1",
    "lrw R",
    15,
    "EAN-13"
  ],
  [
    "EAN8",
    "E",
    "8",
    "lrw R",
    10,
    "EAN-8"
  ],
  [
    "EAN5",
    "E",
    "5",
    "l   R",
    12,
    "EAN-5"
  ],
  [
    "EAN2",
    "E",
    "2",
    "l   R",
    11,
    "EAN-2"
  ],
  [
    "ISBN",
    "E",
    "i",
    "lr  R",
    69,
    "ISBN"
  ],
  [
    "UPCA",
    "E",
    "a",
    "lrw R",
    34,
    "UPC-A"
  ],
  [
    "UPCE",
    "E",
    "e",
    "lrw R",
    37,
    "UPC-E"
  ],
  [
    "Telepen",
    "B",
    " ",
    "lr  I",
    32,
    "Telepen"
  ],
  [
    "TelepenAlpha",
    "B",
    "0",
    "lr  I",
    32,
    "Telepen Alpha"
  ],
  [
    "TelepenNumeric",
    "B",
    "1",
    "lr  I",
    87,
    "Telepen Numeric"
  ],
  [
    "OtherBarcode",
    "X",
    " ",
    " r   ",
    0,
    "Other barcode"
  ],
  [
    "DXFilmEdge",
    "X",
    "x",
    "lr   ",
    147,
    "DX Film Edge"
  ],
  [
    "PDF417",
    "L",
    " ",
    "mrw  ",
    55,
    "PDF417"
  ],
  [
    "CompactPDF417",
    "L",
    "c",
    "mr   ",
    56,
    "Compact PDF417"
  ],
  [
    "MicroPDF417",
    "L",
    "m",
    "mr   ",
    84,
    "MicroPDF417"
  ],
  [
    "Aztec",
    "z",
    " ",
    "mr G ",
    92,
    "Aztec"
  ],
  [
    "AztecCode",
    "z",
    "c",
    "mrwG ",
    92,
    "Aztec Code"
  ],
  [
    "AztecRune",
    "z",
    "r",
    "mr   ",
    128,
    "Aztec Rune"
  ],
  [
    "QRCode",
    "Q",
    " ",
    "mrwG ",
    58,
    "QR Code"
  ],
  [
    "QRCodeModel1",
    "Q",
    "1",
    "mr   ",
    0,
    "QR Code Model 1"
  ],
  [
    "QRCodeModel2",
    "Q",
    "2",
    "mr   ",
    58,
    "QR Code Model 2"
  ],
  [
    "MicroQRCode",
    "Q",
    "m",
    "mr   ",
    97,
    "Micro QR Code"
  ],
  [
    "RMQRCode",
    "Q",
    "r",
    "mr G ",
    145,
    "rMQR Code"
  ],
  [
    "DataMatrix",
    "d",
    " ",
    "mrwG ",
    71,
    "Data Matrix"
  ],
  [
    "MaxiCode",
    "U",
    " ",
    "mr   ",
    57,
    "MaxiCode"
  ]
];
var t = {
  DataBarExpanded: "DataBarExp",
  DataBarLimited: "DataBarLtd",
  "Linear-Codes": "AllLinear",
  "Matrix-Codes": "AllMatrix",
  Any: "All",
  rMQRCode: "RMQRCode"
};
var n = e.map((e2) => e2[5]);
var r = e.filter((e2) => e2[1] === "*").map((e2) => e2[0]);
var i = e.filter((e2) => e2[1] !== "*").map((e2) => e2[0]);
var o = e.filter((e2) => e2[2] === " ").map((e2) => e2[0]);
var s = e.filter((e2) => e2[3][0] === "l").map((e2) => e2[0]);
var l = e.filter((e2) => e2[3][0] === "m").map((e2) => e2[0]);
var d = e.filter((e2) => e2[3][1] === "r").map((e2) => e2[0]);
var f = e.filter((e2) => e2[3][2] === "w" || e2[4] !== 0).map((e2) => e2[0]);
var p = e.filter((e2) => e2[3][3] === "G").map((e2) => e2[0]);
var m = e.filter((e2) => e2[3][4] === "R").map((e2) => e2[0]);
var h = e.filter((e2) => e2[3][4] === "I").map((e2) => e2[0]);
function y(e2) {
  var n2;
  return (n2 = t[e2]) == null ? e2 : n2;
}
function b(e2) {
  return e2.map(y).join(",");
}
var x = [
  "LocalAverage",
  "GlobalHistogram",
  "FixedThreshold",
  "BoolCast"
];
function C(e2) {
  return x.indexOf(e2);
}
var w = /* @__PURE__ */ "Unknown.ASCII.ISO8859_1.ISO8859_2.ISO8859_3.ISO8859_4.ISO8859_5.ISO8859_6.ISO8859_7.ISO8859_8.ISO8859_9.ISO8859_10.ISO8859_11.ISO8859_13.ISO8859_14.ISO8859_15.ISO8859_16.Cp437.Cp1250.Cp1251.Cp1252.Cp1256.Shift_JIS.Big5.GB2312.GB18030.EUC_JP.EUC_KR.UTF16BE.UTF8.UTF16LE.UTF32BE.UTF32LE.BINARY".split(".");
function E(e2) {
  return e2 === "UnicodeBig" ? w.indexOf("UTF16BE") : w.indexOf(e2);
}
var D = [
  "Text",
  "Binary",
  "Mixed",
  "GS1",
  "ISO15434",
  "UnknownECI"
];
function k(e2) {
  return D[e2];
}
var A = [
  "Ignore",
  "Read",
  "Require"
];
function M(e2) {
  return A.indexOf(e2);
}
var N = [
  "Plain",
  "ECI",
  "HRI",
  "Escaped",
  "Hex",
  "HexECI"
];
function F(e2) {
  return N.indexOf(e2);
}
var I = {
  formats: [],
  tryHarder: true,
  tryRotate: true,
  tryInvert: true,
  tryDownscale: true,
  tryDenoise: false,
  binarizer: "LocalAverage",
  isPure: false,
  downscaleFactor: 3,
  downscaleThreshold: 500,
  minLineCount: 2,
  maxNumberOfSymbols: 255,
  validateOptionalChecksum: false,
  returnErrors: false,
  eanAddOnSymbol: "Ignore",
  textMode: "HRI",
  characterSet: "Unknown",
  tryCode39ExtendedMode: true
};
function L(e2) {
  var t2;
  return {
    ...e2,
    formats: b(e2.formats),
    binarizer: C(e2.binarizer),
    eanAddOnSymbol: M(e2.eanAddOnSymbol),
    textMode: F(e2.textMode),
    characterSet: E(e2.characterSet),
    tryCode39ExtendedMode: (t2 = e2.tryCode39ExtendedMode) == null || t2
  };
}
function R(e2) {
  return {
    ...e2,
    orientation: e2.rotation,
    format: e2.format,
    symbology: e2.symbology,
    contentType: k(e2.contentType)
  };
}
var B = {
  format: "QRCode",
  readerInit: false,
  forceSquareDataMatrix: false,
  ecLevel: "",
  scale: 1,
  sizeHint: 0,
  rotate: 0,
  invert: false,
  withHRT: false,
  withQuietZones: true,
  addHRT: false,
  addQuietZones: true,
  options: ""
};
var W = { locateFile: (e2, t2) => {
  let n2 = e2.match(/_(.+?)\.wasm$/);
  return n2 ? `https://fastly.jsdelivr.net/npm/zxing-wasm@3.1.4/dist/${n2[1]}/${e2}` : t2 + e2;
} };
var G = /* @__PURE__ */ new WeakMap();
function K(e2, t2) {
  return Object.is(e2, t2) || Object.keys(e2).length === Object.keys(t2).length && Object.keys(e2).every((n2) => Object.hasOwn(t2, n2) && e2[n2] === t2[n2]);
}
function q(e2, { overrides: t2, equalityFn: n2 = K, fireImmediately: r2 = false } = {}) {
  var i2, a2;
  let [o2, s2] = (i2 = G.get(e2)) == null ? [W] : i2, c2 = t2 == null ? o2 : t2, l2;
  if (r2) {
    if (s2 && (l2 = n2(o2, c2))) return s2;
    let t3 = e2({ ...c2 });
    return G.set(e2, [c2, t3]), t3;
  }
  ((a2 = l2) == null ? n2(o2, c2) : a2) || G.set(e2, [c2]);
}
function J(e2) {
  G.delete(e2);
}
function Y(e2) {
  let t2 = e2.byteLength >> 2, n2 = new Uint8Array(t2);
  for (let r2 = 0; r2 < t2; r2++) {
    let t3 = r2 << 2;
    n2[r2] = 306 * e2[t3] + 601 * e2[t3 + 1] + 117 * e2[t3 + 2] + 512 >> 10;
  }
  return n2;
}
async function X(e2, t2, n2 = I) {
  let r2 = {
    ...I,
    ...n2
  }, i2 = await q(e2, { fireImmediately: true }), a2, o2;
  if ("width" in t2 && "height" in t2 && "data" in t2) {
    let { data: e3, width: n3, height: s3 } = t2, c2 = Y(e3), l2 = c2.byteLength;
    if (o2 = i2._malloc(l2), !o2) throw Error(`Failed to allocate ${l2} bytes in WASM memory`);
    try {
      i2.HEAPU8.set(c2, o2), a2 = i2.readBarcodesFromPixmap(o2, n3, s3, L(r2));
    } finally {
      i2._free(o2);
    }
  } else {
    let e3, n3;
    if ("buffer" in t2) [e3, n3] = [t2.byteLength, t2];
    else if ("byteLength" in t2) [e3, n3] = [t2.byteLength, new Uint8Array(t2)];
    else if ("size" in t2) [e3, n3] = [t2.size, new Uint8Array(await t2.arrayBuffer())];
    else throw TypeError("Invalid input type");
    if (o2 = i2._malloc(e3), !o2) throw Error(`Failed to allocate ${e3} bytes in WASM memory`);
    try {
      i2.HEAPU8.set(n3, o2), a2 = i2.readBarcodesFromImage(o2, e3, L(r2));
    } finally {
      i2._free(o2);
    }
  }
  let s2 = [];
  for (let e3 = 0; e3 < a2.size(); ++e3) s2.push(R(a2.get(e3)));
  return s2;
}
var Q = {
  ...I,
  formats: [...I.formats]
};
var $ = { ...B };

// zxing-wasm/dist/es/reader/index.js
async function w2(e2 = {}) {
  var t2, n2, r2, i2 = e2, a2 = !!globalThis.window, o2 = typeof Bun < "u", s2 = !!globalThis.WorkerGlobalScope;
  (n2 = globalThis.process) != null && (n2 = n2.versions) != null && n2.node && ((r2 = globalThis.process) == null || r2.type);
  var c2, l2 = "";
  function u2(e3) {
    return i2.locateFile ? i2.locateFile(e3, l2) : l2 + e3;
  }
  var d2, f2;
  if (a2 || s2 || o2) {
    try {
      l2 = new URL(".", c2).href;
    } catch {
    }
    s2 && (f2 = (e3) => {
      var t3 = new XMLHttpRequest();
      return t3.open("GET", e3, false), t3.responseType = "arraybuffer", t3.send(null), new Uint8Array(t3.response);
    }), d2 = async (e3) => {
      var t3 = await fetch(e3, { credentials: "same-origin" });
      if (t3.ok) return t3.arrayBuffer();
      throw Error(t3.status + " : " + t3.url);
    };
  }
  console.log.bind(console);
  var p2 = console.error.bind(console), m2, h2 = false, g2, _2, v2 = false;
  function y2() {
    var e3 = Fn.buffer;
    C2 = new Int8Array(e3), x2 = new Int16Array(e3), i2.HEAPU8 = O2 = new Uint8Array(e3), E3 = new Uint16Array(e3), S2 = new Int32Array(e3), D2 = new Uint32Array(e3), w3 = new Float32Array(e3), T3 = new Float64Array(e3);
  }
  function ee() {
    if (i2.preRun) for (typeof i2.preRun == "function" && (i2.preRun = [i2.preRun]); i2.preRun.length; ) me(i2.preRun.shift());
    k3(pe);
  }
  function te() {
    v2 = true, $2.ra();
  }
  function ne() {
    if (i2.postRun) for (typeof i2.postRun == "function" && (i2.postRun = [i2.postRun]); i2.postRun.length; ) fe(i2.postRun.shift());
    k3(de);
  }
  function re(e3) {
    var t3, n3;
    (t3 = i2.onAbort) == null || t3.call(i2, e3), e3 = "Aborted(" + e3 + ")", p2(e3), h2 = true, e3 += ". Build with -sASSERTIONS for more info.";
    var r3 = new WebAssembly.RuntimeError(e3);
    throw (n3 = _2) == null || n3(r3), r3;
  }
  var b2;
  function ie() {
    return u2("zxing_reader.wasm");
  }
  function ae(e3) {
    if (e3 == b2 && m2) return new Uint8Array(m2);
    if (f2) return f2(e3);
    throw "both async and sync fetching of the wasm failed";
  }
  async function oe(e3) {
    if (!m2) try {
      var t3 = await d2(e3);
      return new Uint8Array(t3);
    } catch {
    }
    return ae(e3);
  }
  async function se(e3, t3) {
    try {
      var n3 = await oe(e3);
      return await WebAssembly.instantiate(n3, t3);
    } catch (e4) {
      p2(`failed to asynchronously prepare wasm: ${e4}`), re(e4);
    }
  }
  async function ce(e3, t3, n3) {
    if (!e3 && WebAssembly.instantiateStreaming) try {
      var r3 = fetch(t3, { credentials: "same-origin" });
      return await WebAssembly.instantiateStreaming(r3, n3);
    } catch (e4) {
      p2(`wasm streaming compile failed: ${e4}`), p2("falling back to ArrayBuffer instantiation");
    }
    return se(t3, n3);
  }
  function le() {
    return { a: Rn };
  }
  async function ue() {
    function e3(e4, t4) {
      return $2 = e4.exports, Ln($2), y2(), $2;
    }
    function t3(t4) {
      return e3(t4.instance);
    }
    var n3 = le();
    return i2.instantiateWasm ? new Promise((t4, r3) => {
      i2.instantiateWasm(n3, (n4, r4) => {
        t4(e3(n4, r4));
      });
    }) : (b2 != null || (b2 = ie()), t3(await ce(m2, b2, n3)));
  }
  var x2, S2, C2, w3, T3, E3, D2, O2, k3 = (e3) => {
    for (; e3.length > 0; ) e3.shift()(i2);
  }, de = [], fe = (e3) => de.push(e3), pe = [], me = (e3) => pe.push(e3), A2 = (e3) => On(e3), j2 = () => kn(), M2 = [], he = 0, ge = (e3) => {
    var t3 = new ve(e3);
    return t3.get_caught() || (t3.set_caught(true), he--), t3.set_rethrown(false), M2.push(t3), En(e3);
  }, N2 = 0, _e = () => {
    Q2(0, 0);
    var e3 = M2.pop();
    jn(e3.excPtr), N2 = 0;
  };
  class ve {
    constructor(e3) {
      this.excPtr = e3, this.ptr = e3 - 24;
    }
    set_type(e3) {
      D2[this.ptr + 4 >> 2] = e3;
    }
    get_type() {
      return D2[this.ptr + 4 >> 2];
    }
    set_destructor(e3) {
      D2[this.ptr + 8 >> 2] = e3;
    }
    get_destructor() {
      return D2[this.ptr + 8 >> 2];
    }
    set_caught(e3) {
      e3 = +!!e3, C2[this.ptr + 12] = e3;
    }
    get_caught() {
      return C2[this.ptr + 12] != 0;
    }
    set_rethrown(e3) {
      e3 = +!!e3, C2[this.ptr + 13] = e3;
    }
    get_rethrown() {
      return C2[this.ptr + 13] != 0;
    }
    init(e3, t3) {
      this.set_adjusted_ptr(0), this.set_type(e3), this.set_destructor(t3);
    }
    set_adjusted_ptr(e3) {
      D2[this.ptr + 16 >> 2] = e3;
    }
    get_adjusted_ptr() {
      return D2[this.ptr + 16 >> 2];
    }
  }
  var P2 = (e3) => Dn(e3), ye = (e3) => {
    var t3 = N2;
    if (!t3) return P2(0), 0;
    var n3 = new ve(t3);
    n3.set_adjusted_ptr(t3);
    var r3 = n3.get_type();
    if (!r3) return P2(0), t3;
    for (var i3 of e3) {
      if (i3 === 0 || i3 === r3) break;
      var a3 = n3.ptr + 16;
      if (Mn(i3, r3, a3)) return P2(i3), t3;
    }
    return P2(r3), t3;
  }, be = () => ye([]), xe = (e3) => ye([e3]), Se = (e3, t3) => ye([e3, t3]), Ce = () => {
    var e3 = M2.pop();
    e3 || re("no exception to throw");
    var t3 = e3.excPtr;
    throw e3.get_rethrown() || (M2.push(e3), e3.set_rethrown(true), e3.set_caught(false), he++), An(t3), N2 = t3, N2;
  }, we = (e3, t3, n3) => {
    throw new ve(e3).init(t3, n3), An(e3), N2 = e3, he++, N2;
  }, Te = (e3) => {
    throw N2 || (N2 = e3), N2;
  }, Ee = () => re(""), F2 = {}, De = (e3) => {
    for (; e3.length; ) {
      var t3 = e3.pop();
      e3.pop()(t3);
    }
  };
  function I2(e3) {
    return this.fromWireType(D2[e3 >> 2]);
  }
  var L2 = {}, R2 = {}, z = {}, Oe = class extends Error {
    constructor(e3) {
      super(e3), this.name = "InternalError";
    }
  }, B2 = (e3) => {
    throw new Oe(e3);
  }, V = (e3, t3, n3) => {
    e3.forEach((e4) => z[e4] = t3);
    function r3(t4) {
      var r4 = n3(t4);
      r4.length !== e3.length && B2("Mismatched type converter count");
      for (var i4 = 0; i4 < e3.length; ++i4) G2(e3[i4], r4[i4]);
    }
    var i3 = Array(t3.length), a3 = [], o3 = 0;
    {
      let e4 = t3;
      for (let t4 = 0; t4 < e4.length; ++t4) {
        let n4 = e4[t4];
        R2.hasOwnProperty(n4) ? i3[t4] = R2[n4] : (a3.push(n4), L2.hasOwnProperty(n4) || (L2[n4] = []), L2[n4].push(() => {
          i3[t4] = R2[n4], ++o3, o3 === a3.length && r3(i3);
        }));
      }
    }
    a3.length === 0 && r3(i3);
  }, ke = (e3) => {
    var t3 = F2[e3];
    delete F2[e3];
    var n3 = t3.rawConstructor, r3 = t3.rawDestructor, i3 = t3.fields, a3 = i3.map((e4) => e4.getterReturnType).concat(i3.map((e4) => e4.setterArgumentType));
    V([e3], a3, (e4) => {
      var a4 = {};
      {
        let t4 = i3;
        for (let n4 = 0; n4 < t4.length; ++n4) {
          let r4 = t4[n4], o3 = e4[n4], s3 = r4.getter, c3 = r4.getterContext, l3 = e4[n4 + i3.length], u3 = r4.setter, d3 = r4.setterContext;
          a4[r4.fieldName] = {
            read: (e5) => o3.fromWireType(s3(c3, e5)),
            write: (e5, t5) => {
              var n5 = [];
              u3(d3, e5, l3.toWireType(n5, t5)), De(n5);
            },
            optional: o3.optional
          };
        }
      }
      return [{
        name: t3.name,
        fromWireType: (e5) => {
          var t4 = {};
          for (var n4 in a4) t4[n4] = a4[n4].read(e5);
          return r3(e5), t4;
        },
        toWireType: (e5, t4) => {
          for (var i4 in a4) if (!(i4 in t4) && !a4[i4].optional) throw TypeError(`Missing field: "${i4}"`);
          var o3 = n3();
          for (i4 in a4) a4[i4].write(o3, t4[i4]);
          return e5 !== null && e5.push(r3, o3), o3;
        },
        readValueFromPointer: I2,
        destructorFunction: r3
      }];
    });
  }, Ae = (e3, t3, n3, r3, i3) => {
  }, H2 = (e3) => {
    for (var t3 = ""; ; ) {
      var n3 = O2[e3++];
      if (!n3) return t3;
      t3 += String.fromCharCode(n3);
    }
  }, U2 = class extends Error {
    constructor(e3) {
      super(e3), this.name = "BindingError";
    }
  }, W2 = (e3) => {
    throw new U2(e3);
  };
  function je(e3, t3) {
    let n3 = arguments.length > 2 && arguments[2] !== void 0 ? arguments[2] : {};
    var r3 = t3.name;
    if (e3 || W2(`type "${r3}" must have a positive integer typeid pointer`), R2.hasOwnProperty(e3)) {
      if (n3.ignoreDuplicateRegistrations) return;
      W2(`Cannot register type '${r3}' twice`);
    }
    if (R2[e3] = t3, delete z[e3], L2.hasOwnProperty(e3)) {
      var i3 = L2[e3];
      delete L2[e3], i3.forEach((e4) => e4());
    }
  }
  function G2(e3, t3) {
    return je(e3, t3, arguments.length > 2 && arguments[2] !== void 0 ? arguments[2] : {});
  }
  var Me = (e3, t3, n3, r3) => {
    t3 = H2(t3), G2(e3, {
      name: t3,
      fromWireType: function(e4) {
        return !!e4;
      },
      toWireType: function(e4, t4) {
        return t4 ? n3 : r3;
      },
      readValueFromPointer: function(e4) {
        return this.fromWireType(O2[e4]);
      },
      destructorFunction: null
    });
  }, Ne = (e3) => ({
    count: e3.count,
    deleteScheduled: e3.deleteScheduled,
    preservePointerOnDelete: e3.preservePointerOnDelete,
    ptr: e3.ptr,
    ptrType: e3.ptrType,
    smartPtr: e3.smartPtr,
    smartPtrType: e3.smartPtrType
  }), Pe = (e3) => {
    function t3(e4) {
      return e4.$$.ptrType.registeredClass.name;
    }
    W2(t3(e3) + " instance already deleted");
  }, Fe = false, Ie = (e3) => {
  }, Le = (e3) => {
    e3.smartPtr ? e3.smartPtrType.rawDestructor(e3.smartPtr) : e3.ptrType.registeredClass.rawDestructor(e3.ptr);
  }, Re = (e3) => {
    --e3.count.value, e3.count.value === 0 && Le(e3);
  }, K2 = (e3) => globalThis.FinalizationRegistry ? (Fe = new FinalizationRegistry((e4) => {
    Re(e4.$$);
  }), K2 = (e4) => {
    var t3 = e4.$$;
    if (t3.smartPtr) {
      var n3 = { $$: t3 };
      Fe.register(e4, n3, e4);
    }
    return e4;
  }, Ie = (e4) => Fe.unregister(e4), K2(e3)) : (K2 = (e4) => e4, e3), ze = [], Be = () => {
    for (; ze.length; ) {
      var e3 = ze.pop();
      e3.$$.deleteScheduled = false, e3.delete();
    }
  }, Ve, He = () => {
    let e3 = Ue.prototype;
    Object.assign(e3, {
      isAliasOf(e4) {
        if (!(this instanceof Ue) || !(e4 instanceof Ue)) return false;
        var t4 = this.$$.ptrType.registeredClass, n3 = this.$$.ptr;
        e4.$$ = e4.$$;
        for (var r3 = e4.$$.ptrType.registeredClass, i3 = e4.$$.ptr; t4.baseClass; ) n3 = t4.upcast(n3), t4 = t4.baseClass;
        for (; r3.baseClass; ) i3 = r3.upcast(i3), r3 = r3.baseClass;
        return t4 === r3 && n3 === i3;
      },
      clone() {
        if (this.$$.ptr || Pe(this), this.$$.preservePointerOnDelete) return this.$$.count.value += 1, this;
        var e4 = K2(Object.create(Object.getPrototypeOf(this), { $$: { value: Ne(this.$$) } }));
        return e4.$$.count.value += 1, e4.$$.deleteScheduled = false, e4;
      },
      delete() {
        this.$$.ptr || Pe(this), this.$$.deleteScheduled && !this.$$.preservePointerOnDelete && W2("Object already scheduled for deletion"), Ie(this), Re(this.$$), this.$$.preservePointerOnDelete || (this.$$.smartPtr = void 0, this.$$.ptr = void 0);
      },
      isDeleted() {
        return !this.$$.ptr;
      },
      deleteLater() {
        return this.$$.ptr || Pe(this), this.$$.deleteScheduled && !this.$$.preservePointerOnDelete && W2("Object already scheduled for deletion"), ze.push(this), ze.length === 1 && Ve && Ve(Be), this.$$.deleteScheduled = true, this;
      }
    });
    let t3 = Symbol.dispose;
    t3 && (e3[t3] = e3.delete);
  };
  function Ue() {
  }
  var We = (e3, t3) => Object.defineProperty(t3, "name", { value: e3 }), Ge = {}, Ke = (e3, t3, n3) => {
    if (e3[t3].overloadTable === void 0) {
      var r3 = e3[t3];
      e3[t3] = function() {
        var r4 = [...arguments];
        return e3[t3].overloadTable.hasOwnProperty(r4.length) || W2(`Function '${n3}' called with an invalid number of arguments (${r4.length}) - expects one of (${e3[t3].overloadTable})!`), e3[t3].overloadTable[r4.length].apply(this, r4);
      }, e3[t3].overloadTable = [], e3[t3].overloadTable[r3.argCount] = r3;
    }
  }, qe = (e3, t3, n3) => {
    i2.hasOwnProperty(e3) ? ((n3 === void 0 || i2[e3].overloadTable !== void 0 && i2[e3].overloadTable[n3] !== void 0) && W2(`Cannot register public name '${e3}' twice`), Ke(i2, e3, e3), i2[e3].overloadTable.hasOwnProperty(n3) && W2(`Cannot register multiple overloads of a function with the same number of arguments (${n3})!`), i2[e3].overloadTable[n3] = t3) : (i2[e3] = t3, i2[e3].argCount = n3);
  }, Je = 48, Ye = 57, Xe = (e3) => {
    e3 = e3.replace(/[^a-zA-Z0-9_]/g, "$");
    var t3 = e3.charCodeAt(0);
    return t3 >= Je && t3 <= Ye ? `_${e3}` : e3;
  };
  function Ze(e3, t3, n3, r3, i3, a3, o3, s3) {
    this.name = e3, this.constructor = t3, this.instancePrototype = n3, this.rawDestructor = r3, this.baseClass = i3, this.getActualType = a3, this.upcast = o3, this.downcast = s3, this.pureVirtualFunctions = [];
  }
  var Qe = (e3, t3, n3) => {
    for (; t3 !== n3; ) t3.upcast || W2(`Expected null or instance of ${n3.name}, got an instance of ${t3.name}`), e3 = t3.upcast(e3), t3 = t3.baseClass;
    return e3;
  }, $e = (e3) => {
    if (e3 === null) return "null";
    var t3 = typeof e3;
    return t3 === "object" || t3 === "array" || t3 === "function" ? e3.toString() : "" + e3;
  };
  function et(e3, t3) {
    if (t3 === null) return this.isReference && W2(`null is not a valid ${this.name}`), 0;
    t3.$$ || W2(`Cannot pass "${$e(t3)}" as a ${this.name}`), t3.$$.ptr || W2(`Cannot pass deleted object as a pointer of type ${this.name}`);
    var n3 = t3.$$.ptrType.registeredClass;
    return Qe(t3.$$.ptr, n3, this.registeredClass);
  }
  function tt(e3, t3) {
    var n3;
    if (t3 === null) return this.isReference && W2(`null is not a valid ${this.name}`), this.isSmartPointer ? (n3 = this.rawConstructor(), e3 !== null && e3.push(this.rawDestructor, n3), n3) : 0;
    (!t3 || !t3.$$) && W2(`Cannot pass "${$e(t3)}" as a ${this.name}`), t3.$$.ptr || W2(`Cannot pass deleted object as a pointer of type ${this.name}`), !this.isConst && t3.$$.ptrType.isConst && W2(`Cannot convert argument of type ${t3.$$.smartPtrType ? t3.$$.smartPtrType.name : t3.$$.ptrType.name} to parameter type ${this.name}`);
    var r3 = t3.$$.ptrType.registeredClass;
    if (n3 = Qe(t3.$$.ptr, r3, this.registeredClass), this.isSmartPointer) switch (t3.$$.smartPtr === void 0 && W2("Passing raw pointer to smart pointer is illegal"), this.sharingPolicy) {
      case 0:
        t3.$$.smartPtrType === this ? n3 = t3.$$.smartPtr : W2(`Cannot convert argument of type ${t3.$$.smartPtrType ? t3.$$.smartPtrType.name : t3.$$.ptrType.name} to parameter type ${this.name}`);
        break;
      case 1:
        n3 = t3.$$.smartPtr;
        break;
      case 2:
        if (t3.$$.smartPtrType === this) n3 = t3.$$.smartPtr;
        else {
          var i3 = t3.clone();
          n3 = this.rawShare(n3, X2.toHandle(() => i3.delete())), e3 !== null && e3.push(this.rawDestructor, n3);
        }
        break;
      default:
        W2("Unsupported sharing policy");
    }
    return n3;
  }
  function nt(e3, t3) {
    if (t3 === null) return this.isReference && W2(`null is not a valid ${this.name}`), 0;
    t3.$$ || W2(`Cannot pass "${$e(t3)}" as a ${this.name}`), t3.$$.ptr || W2(`Cannot pass deleted object as a pointer of type ${this.name}`), t3.$$.ptrType.isConst && W2(`Cannot convert argument of type ${t3.$$.ptrType.name} to parameter type ${this.name}`);
    var n3 = t3.$$.ptrType.registeredClass;
    return Qe(t3.$$.ptr, n3, this.registeredClass);
  }
  var rt = (e3, t3, n3) => {
    if (t3 === n3) return e3;
    if (n3.baseClass === void 0) return null;
    var r3 = rt(e3, t3, n3.baseClass);
    return r3 === null ? null : n3.downcast(r3);
  }, it = {}, at = (e3, t3) => {
    for (t3 === void 0 && W2("ptr should not be undefined"); e3.baseClass; ) t3 = e3.upcast(t3), e3 = e3.baseClass;
    return t3;
  }, ot = (e3, t3) => (t3 = at(e3, t3), it[t3]), st = (e3, t3) => ((!t3.ptrType || !t3.ptr) && B2("makeClassHandle requires ptr and ptrType"), !!t3.smartPtrType != !!t3.smartPtr && B2("Both smartPtrType and smartPtr must be specified"), t3.count = { value: 1 }, K2(Object.create(e3, { $$: {
    value: t3,
    writable: true
  } })));
  function ct(e3) {
    var t3 = this.getPointee(e3);
    if (!t3) return this.destructor(e3), null;
    var n3 = ot(this.registeredClass, t3);
    if (n3 !== void 0) {
      if (n3.$$.count.value === 0) return n3.$$.ptr = t3, n3.$$.smartPtr = e3, n3.clone();
      var r3 = n3.clone();
      return this.destructor(e3), r3;
    }
    function i3() {
      return this.isSmartPointer ? st(this.registeredClass.instancePrototype, {
        ptrType: this.pointeeType,
        ptr: t3,
        smartPtrType: this,
        smartPtr: e3
      }) : st(this.registeredClass.instancePrototype, {
        ptrType: this,
        ptr: e3
      });
    }
    var a3 = Ge[this.registeredClass.getActualType(t3)];
    if (!a3) return i3.call(this);
    var o3 = this.isConst ? a3.constPointerType : a3.pointerType, s3 = rt(t3, this.registeredClass, o3.registeredClass);
    return s3 === null ? i3.call(this) : this.isSmartPointer ? st(o3.registeredClass.instancePrototype, {
      ptrType: o3,
      ptr: s3,
      smartPtrType: this,
      smartPtr: e3
    }) : st(o3.registeredClass.instancePrototype, {
      ptrType: o3,
      ptr: s3
    });
  }
  var lt = () => {
    Object.assign(ut.prototype, {
      getPointee(e3) {
        return this.rawGetPointee && (e3 = this.rawGetPointee(e3)), e3;
      },
      destructor(e3) {
        var t3;
        (t3 = this.rawDestructor) == null || t3.call(this, e3);
      },
      readValueFromPointer: I2,
      fromWireType: ct
    });
  };
  function ut(e3, t3, n3, r3, i3, a3, o3, s3, c3, l3, u3) {
    this.name = e3, this.registeredClass = t3, this.isReference = n3, this.isConst = r3, this.isSmartPointer = i3, this.pointeeType = a3, this.sharingPolicy = o3, this.rawGetPointee = s3, this.rawConstructor = c3, this.rawShare = l3, this.rawDestructor = u3, !i3 && t3.baseClass === void 0 ? r3 ? (this.toWireType = et, this.destructorFunction = null) : (this.toWireType = nt, this.destructorFunction = null) : this.toWireType = tt;
  }
  var dt = (e3, t3, n3) => {
    i2.hasOwnProperty(e3) || B2("Replacing nonexistent public symbol"), i2[e3].overloadTable !== void 0 && n3 !== void 0 ? i2[e3].overloadTable[n3] = t3 : (i2[e3] = t3, i2[e3].argCount = n3);
  }, ft = {}, pt = (e3, t3, n3) => {
    e3 = e3.replace(/p/g, "i");
    var r3 = ft[e3];
    return r3(t3, ...n3);
  }, mt = [], q2 = (e3) => {
    var t3 = mt[e3];
    return t3 || (mt[e3] = t3 = In.get(e3)), t3;
  }, ht = function(e3, t3) {
    let n3 = arguments.length > 2 && arguments[2] !== void 0 ? arguments[2] : [];
    if (arguments.length > 3 && arguments[3] !== void 0 && arguments[3], e3.includes("j")) return pt(e3, t3, n3);
    var r3 = q2(t3)(...n3);
    function i3(e4) {
      return e4;
    }
    return i3(r3);
  }, gt = function(e3, t3) {
    let n3 = arguments.length > 2 && arguments[2] !== void 0 && arguments[2];
    return function() {
      return ht(e3, t3, [...arguments], n3);
    };
  }, J2 = function(e3, t3) {
    arguments.length > 2 && arguments[2] !== void 0 && arguments[2], e3 = H2(e3);
    function n3() {
      return e3.includes("j") ? gt(e3, t3) : q2(t3);
    }
    var r3 = n3();
    return typeof r3 != "function" && W2(`unknown function pointer with signature ${e3}: ${t3}`), r3;
  };
  class _t extends Error {
  }
  var vt = (e3) => {
    var t3 = wn(e3), n3 = H2(t3);
    return Z(t3), n3;
  }, yt = (e3, t3) => {
    var n3 = [], r3 = {};
    function i3(e4) {
      if (!r3[e4] && !R2[e4]) {
        if (z[e4]) {
          z[e4].forEach(i3);
          return;
        }
        n3.push(e4), r3[e4] = true;
      }
    }
    throw t3.forEach(i3), new _t(`${e3}: ` + n3.map(vt).join([", "]));
  }, bt = (e3, t3, n3, r3, i3, a3, o3, s3, c3, l3, u3, d3, f3) => {
    u3 = H2(u3), a3 = J2(i3, a3), s3 && (s3 = J2(o3, s3)), l3 && (l3 = J2(c3, l3)), f3 = J2(d3, f3);
    var p3 = Xe(u3);
    qe(p3, function() {
      yt(`Cannot construct ${u3} due to unbound types`, [r3]);
    }), V([
      e3,
      t3,
      n3
    ], r3 ? [r3] : [], (t4) => {
      t4 = t4[0];
      var n4, i4;
      r3 ? (n4 = t4.registeredClass, i4 = n4.instancePrototype) : i4 = Ue.prototype;
      var o4 = We(u3, function() {
        if (Object.getPrototypeOf(this) !== c4) throw new U2(`Use 'new' to construct ${u3}`);
        if (d4.constructor_body === void 0) throw new U2(`${u3} has no accessible constructor`);
        var e4 = [...arguments], t5 = d4.constructor_body[e4.length];
        if (t5 === void 0) throw new U2(`Tried to invoke ctor of ${u3} with invalid number of parameters (${e4.length}) - expected (${Object.keys(d4.constructor_body).toString()}) parameters instead!`);
        return t5.apply(this, e4);
      }), c4 = Object.create(i4, { constructor: { value: o4 } });
      o4.prototype = c4;
      var d4 = new Ze(u3, o4, c4, f3, n4, a3, s3, l3);
      if (d4.baseClass) {
        var m3;
        (m3 = d4.baseClass).__derivedClasses != null || (m3.__derivedClasses = []), d4.baseClass.__derivedClasses.push(d4);
      }
      var h3 = new ut(u3, d4, true, false, false), g3 = new ut(u3 + "*", d4, false, false, false), _3 = new ut(u3 + " const*", d4, false, true, false);
      return Ge[e3] = {
        pointerType: g3,
        constPointerType: _3
      }, dt(p3, o4), [
        h3,
        g3,
        _3
      ];
    });
  }, xt = (e3, t3) => {
    for (var n3 = [], r3 = 0; r3 < e3; r3++) n3.push(D2[t3 + r3 * 4 >> 2]);
    return n3;
  };
  function St(e3) {
    for (var t3 = 1; t3 < e3.length; ++t3) if (e3[t3] !== null && e3[t3].destructorFunction === void 0) return true;
    return false;
  }
  function Ct(e3, t3, n3, r3, i3, a3) {
    var o3 = t3.length;
    o3 < 2 && W2("argTypes array size mismatch! Must at least get return value and 'this' types!");
    var s3 = t3[1] !== null && n3 !== null, c3 = St(t3), l3 = !t3[0].isVoid, u3 = o3 - 2, d3 = Array(u3), f3 = [], p3 = [];
    return We(e3, function() {
      p3.length = 0;
      var e4;
      f3.length = s3 ? 2 : 1, f3[0] = i3, s3 && (e4 = t3[1].toWireType(p3, this), f3[1] = e4);
      for (var n4 = 0; n4 < u3; ++n4) d3[n4] = t3[n4 + 2].toWireType(p3, n4 < 0 || arguments.length <= n4 ? void 0 : arguments[n4]), f3.push(d3[n4]);
      var a4 = r3(...f3);
      function o4(n5) {
        if (c3) De(p3);
        else for (var r4 = s3 ? 1 : 2; r4 < t3.length; r4++) {
          var i4 = r4 === 1 ? e4 : d3[r4 - 2];
          t3[r4].destructorFunction !== null && t3[r4].destructorFunction(i4);
        }
        if (l3) return t3[0].fromWireType(n5);
      }
      return o4(a4);
    });
  }
  var wt = (e3, t3, n3, r3, i3, a3) => {
    var o3 = xt(t3, n3);
    i3 = J2(r3, i3), V([], [e3], (e4) => {
      e4 = e4[0];
      var n4 = `constructor ${e4.name}`;
      if (e4.registeredClass.constructor_body === void 0 && (e4.registeredClass.constructor_body = []), e4.registeredClass.constructor_body[t3 - 1] !== void 0) throw new U2(`Cannot register multiple constructors with identical number of parameters (${t3 - 1}) for class '${e4.name}'! Overload resolution is currently only performed using the parameter count, not actual type info!`);
      return e4.registeredClass.constructor_body[t3 - 1] = () => {
        yt(`Cannot construct ${e4.name} due to unbound types`, o3);
      }, V([], o3, (r4) => (r4.splice(1, 0, null), e4.registeredClass.constructor_body[t3 - 1] = Ct(n4, r4, null, i3, a3), [])), [];
    });
  }, Tt = (e3) => {
    e3 = e3.trim();
    let t3 = e3.indexOf("(");
    return t3 === -1 ? e3 : e3.slice(0, t3);
  }, Et = (e3, t3, n3, r3, i3, a3, o3, s3, c3, l3) => {
    var u3 = xt(n3, r3);
    t3 = H2(t3), t3 = Tt(t3), a3 = J2(i3, a3, c3), V([], [e3], (e4) => {
      e4 = e4[0];
      var r4 = `${e4.name}.${t3}`;
      t3.startsWith("@@") && (t3 = Symbol[t3.substring(2)]), s3 && e4.registeredClass.pureVirtualFunctions.push(t3);
      function i4() {
        yt(`Cannot call ${r4} due to unbound types`, u3);
      }
      var l4 = e4.registeredClass.instancePrototype, d3 = l4[t3];
      return d3 === void 0 || d3.overloadTable === void 0 && d3.className !== e4.name && d3.argCount === n3 - 2 ? (i4.argCount = n3 - 2, i4.className = e4.name, l4[t3] = i4) : (Ke(l4, t3, r4), l4[t3].overloadTable[n3 - 2] = i4), V([], u3, (i5) => {
        var s4 = Ct(r4, i5, e4, a3, o3, c3);
        return l4[t3].overloadTable === void 0 ? (s4.argCount = n3 - 2, l4[t3] = s4) : l4[t3].overloadTable[n3 - 2] = s4, [];
      }), [];
    });
  }, Dt = [], Y2 = [
    0,
    1,
    ,
    1,
    null,
    1,
    true,
    1,
    false,
    1
  ], Ot = (e3) => {
    e3 > 9 && --Y2[e3 + 1] === 0 && (Y2[e3] = void 0, Dt.push(e3));
  }, X2 = {
    toValue: (e3) => (e3 || W2(`Cannot use deleted val. handle = ${e3}`), Y2[e3]),
    toHandle: (e3) => {
      switch (e3) {
        case void 0:
          return 2;
        case null:
          return 4;
        case true:
          return 6;
        case false:
          return 8;
        default: {
          let t3 = Dt.pop() || Y2.length;
          return Y2[t3] = e3, Y2[t3 + 1] = 1, t3;
        }
      }
    }
  }, kt = {
    name: "emscripten::val",
    fromWireType: (e3) => {
      var t3 = X2.toValue(e3);
      return Ot(e3), t3;
    },
    toWireType: (e3, t3) => X2.toHandle(t3),
    readValueFromPointer: I2,
    destructorFunction: null
  }, At = (e3) => G2(e3, kt), jt = (e3, t3) => {
    switch (t3) {
      case 4:
        return function(e4) {
          return this.fromWireType(w3[e4 >> 2]);
        };
      case 8:
        return function(e4) {
          return this.fromWireType(T3[e4 >> 3]);
        };
      default:
        throw TypeError(`invalid float width (${t3}): ${e3}`);
    }
  }, Mt = (e3, t3, n3) => {
    t3 = H2(t3), G2(e3, {
      name: t3,
      fromWireType: (e4) => e4,
      toWireType: (e4, t4) => t4,
      readValueFromPointer: jt(t3, n3),
      destructorFunction: null
    });
  }, Nt = (e3, t3, n3, r3, i3, a3, o3, s3) => {
    var c3 = xt(t3, n3);
    e3 = H2(e3), e3 = Tt(e3), i3 = J2(r3, i3, o3), qe(e3, function() {
      yt(`Cannot call ${e3} due to unbound types`, c3);
    }, t3 - 1), V([], c3, (n4) => {
      var r4 = [n4[0], null].concat(n4.slice(1));
      return dt(e3, Ct(e3, r4, null, i3, a3, o3), t3 - 1), [];
    });
  }, Pt = (e3, t3, n3) => {
    switch (t3) {
      case 1:
        return n3 ? (e4) => C2[e4] : (e4) => O2[e4];
      case 2:
        return n3 ? (e4) => x2[e4 >> 1] : (e4) => E3[e4 >> 1];
      case 4:
        return n3 ? (e4) => S2[e4 >> 2] : (e4) => D2[e4 >> 2];
      default:
        throw TypeError(`invalid integer width (${t3}): ${e3}`);
    }
  }, Ft = (e3, t3, n3, r3, i3) => {
    t3 = H2(t3);
    let a3 = r3 === 0, o3 = (e4) => e4;
    if (a3) {
      var s3 = 32 - 8 * n3;
      o3 = (e4) => e4 << s3 >>> s3, i3 = o3(i3);
    }
    G2(e3, {
      name: t3,
      fromWireType: o3,
      toWireType: (e4, t4) => t4,
      readValueFromPointer: Pt(t3, n3, r3 !== 0),
      destructorFunction: null
    });
  }, It = (e3, t3, n3) => {
    let r3 = (e4, t4) => {
      let n4 = 0;
      return {
        next() {
          if (n4 >= e4) return { done: true };
          let r4 = n4;
          return n4++, {
            value: t4(r4),
            done: false
          };
        },
        [Symbol.iterator]() {
          return this;
        }
      };
    };
    e3[Symbol.iterator] || (e3[Symbol.iterator] = function() {
      let e4 = this[t3]();
      return r3(e4, (e5) => this[n3](e5));
    });
  }, Lt = (e3, t3, n3, r3) => {
    n3 = H2(n3), r3 = H2(r3), V([], [e3, t3], (e4) => {
      let t4 = e4[0];
      return It(t4.registeredClass.instancePrototype, n3, r3), [];
    });
  }, Rt = (e3, t3, n3) => {
    var r3 = [
      Int8Array,
      Uint8Array,
      Int16Array,
      Uint16Array,
      Int32Array,
      Uint32Array,
      Float32Array,
      Float64Array
    ][t3];
    function i3(e4) {
      var t4 = D2[e4 >> 2], n4 = D2[e4 + 4 >> 2];
      return new r3(C2.buffer, n4, t4);
    }
    n3 = H2(n3), G2(e3, {
      name: n3,
      fromWireType: i3,
      readValueFromPointer: i3
    }, { ignoreDuplicateRegistrations: true });
  }, zt = Object.assign({ optional: true }, kt), Bt = (e3, t3) => {
    G2(e3, zt);
  }, Vt = (e3, t3, n3, r3) => {
    if (!(r3 > 0)) return 0;
    for (var i3 = n3, a3 = n3 + r3 - 1, o3 = 0; o3 < e3.length; ++o3) {
      var s3 = e3.codePointAt(o3);
      if (s3 <= 127) {
        if (n3 >= a3) break;
        t3[n3++] = s3;
      } else if (s3 <= 2047) {
        if (n3 + 1 >= a3) break;
        t3[n3++] = 192 | s3 >> 6, t3[n3++] = 128 | s3 & 63;
      } else if (s3 <= 65535) {
        if (n3 + 2 >= a3) break;
        t3[n3++] = 224 | s3 >> 12, t3[n3++] = 128 | s3 >> 6 & 63, t3[n3++] = 128 | s3 & 63;
      } else {
        if (n3 + 3 >= a3) break;
        t3[n3++] = 240 | s3 >> 18, t3[n3++] = 128 | s3 >> 12 & 63, t3[n3++] = 128 | s3 >> 6 & 63, t3[n3++] = 128 | s3 & 63, o3++;
      }
    }
    return t3[n3] = 0, n3 - i3;
  }, Ht = (e3, t3, n3) => Vt(e3, O2, t3, n3), Ut = (e3) => {
    for (var t3 = 0, n3 = 0; n3 < e3.length; ++n3) {
      var r3 = e3.charCodeAt(n3);
      r3 <= 127 ? t3++ : r3 <= 2047 ? t3 += 2 : r3 >= 55296 && r3 <= 57343 ? (t3 += 4, ++n3) : t3 += 3;
    }
    return t3;
  }, Wt = globalThis.TextDecoder && new TextDecoder(), Gt = (e3, t3, n3, r3) => {
    var i3 = t3 + n3;
    if (r3) return i3;
    for (; e3[t3] && !(t3 >= i3); ) ++t3;
    return t3;
  }, Kt = function(e3) {
    let t3 = arguments.length > 1 && arguments[1] !== void 0 ? arguments[1] : 0, n3 = arguments.length > 2 ? arguments[2] : void 0, r3 = arguments.length > 3 ? arguments[3] : void 0;
    var i3 = Gt(e3, t3, n3, r3);
    if (i3 - t3 > 16 && e3.buffer && Wt) return Wt.decode(e3.subarray(t3, i3));
    for (var a3 = ""; t3 < i3; ) {
      var o3 = e3[t3++];
      if (!(o3 & 128)) {
        a3 += String.fromCharCode(o3);
        continue;
      }
      var s3 = e3[t3++] & 63;
      if ((o3 & 224) == 192) {
        a3 += String.fromCharCode((o3 & 31) << 6 | s3);
        continue;
      }
      var c3 = e3[t3++] & 63;
      if (o3 = (o3 & 240) == 224 ? (o3 & 15) << 12 | s3 << 6 | c3 : (o3 & 7) << 18 | s3 << 12 | c3 << 6 | e3[t3++] & 63, o3 < 65536) a3 += String.fromCharCode(o3);
      else {
        var l3 = o3 - 65536;
        a3 += String.fromCharCode(55296 | l3 >> 10, 56320 | l3 & 1023);
      }
    }
    return a3;
  }, qt = (e3, t3, n3) => e3 ? Kt(O2, e3, t3, n3) : "", Jt = (e3, t3) => {
    t3 = H2(t3);
    var n3 = true;
    G2(e3, {
      name: t3,
      fromWireType(e4) {
        var t4 = D2[e4 >> 2], r3 = e4 + 4, i3;
        if (n3) i3 = qt(r3, t4, true);
        else {
          i3 = "";
          for (var a3 = 0; a3 < t4; ++a3) i3 += String.fromCharCode(O2[r3 + a3]);
        }
        return Z(e4), i3;
      },
      toWireType(e4, t4) {
        t4 instanceof ArrayBuffer && (t4 = new Uint8Array(t4));
        var r3, i3 = typeof t4 == "string";
        i3 || ArrayBuffer.isView(t4) && t4.BYTES_PER_ELEMENT == 1 || W2("Cannot pass non-string to std::string"), r3 = n3 && i3 ? Ut(t4) : t4.length;
        var a3 = Tn(4 + r3 + 1), o3 = a3 + 4;
        if (D2[a3 >> 2] = r3, i3) {
          if (n3) Ht(t4, o3, r3 + 1);
          else for (var s3 = 0; s3 < r3; ++s3) {
            var c3 = t4.charCodeAt(s3);
            c3 > 255 && (Z(a3), W2("String has UTF-16 code units that do not fit in 8 bits")), O2[o3 + s3] = c3;
          }
        } else O2.set(t4, o3);
        return e4 !== null && e4.push(Z, a3), a3;
      },
      readValueFromPointer: I2,
      destructorFunction(e4) {
        Z(e4);
      }
    });
  }, Yt = globalThis.TextDecoder ? new TextDecoder("utf-16le") : void 0, Xt = (e3, t3, n3) => {
    var r3 = e3 >> 1, i3 = Gt(E3, r3, t3 / 2, n3);
    if (i3 - r3 > 16 && Yt) return Yt.decode(E3.subarray(r3, i3));
    for (var a3 = "", o3 = r3; o3 < i3; ++o3) {
      var s3 = E3[o3];
      a3 += String.fromCharCode(s3);
    }
    return a3;
  }, Zt = (e3, t3, n3) => {
    if (n3 != null || (n3 = 2147483647), n3 < 2) return 0;
    n3 -= 2;
    for (var r3 = t3, i3 = n3 < e3.length * 2 ? n3 / 2 : e3.length, a3 = 0; a3 < i3; ++a3) {
      var o3 = e3.charCodeAt(a3);
      x2[t3 >> 1] = o3, t3 += 2;
    }
    return x2[t3 >> 1] = 0, t3 - r3;
  }, Qt = (e3) => e3.length * 2, $t = (e3, t3, n3) => {
    for (var r3 = "", i3 = e3 >> 2, a3 = 0; !(a3 >= t3 / 4); a3++) {
      var o3 = D2[i3 + a3];
      if (!o3 && !n3) break;
      r3 += String.fromCodePoint(o3);
    }
    return r3;
  }, en = (e3, t3, n3) => {
    if (n3 != null || (n3 = 2147483647), n3 < 4) return 0;
    for (var r3 = t3, i3 = r3 + n3 - 4, a3 = 0; a3 < e3.length; ++a3) {
      var o3 = e3.codePointAt(a3);
      if (o3 > 65535 && a3++, S2[t3 >> 2] = o3, t3 += 4, t3 + 4 > i3) break;
    }
    return S2[t3 >> 2] = 0, t3 - r3;
  }, tn = (e3) => {
    for (var t3 = 0, n3 = 0; n3 < e3.length; ++n3) e3.codePointAt(n3) > 65535 && n3++, t3 += 4;
    return t3;
  }, nn = (e3, t3, n3) => {
    n3 = H2(n3);
    var r3, i3, a3;
    t3 === 2 ? (r3 = Xt, i3 = Zt, a3 = Qt) : (r3 = $t, i3 = en, a3 = tn), G2(e3, {
      name: n3,
      fromWireType: (e4) => {
        var n4 = D2[e4 >> 2], i4 = r3(e4 + 4, n4 * t3, true);
        return Z(e4), i4;
      },
      toWireType: (e4, r4) => {
        typeof r4 != "string" && W2(`Cannot pass non-string to C++ string type ${n3}`);
        var o3 = a3(r4), s3 = Tn(4 + o3 + t3);
        return D2[s3 >> 2] = o3 / t3, i3(r4, s3 + 4, o3 + t3), e4 !== null && e4.push(Z, s3), s3;
      },
      readValueFromPointer: I2,
      destructorFunction(e4) {
        Z(e4);
      }
    });
  }, rn = (e3, t3, n3, r3, i3, a3) => {
    F2[e3] = {
      name: H2(t3),
      rawConstructor: J2(n3, r3),
      rawDestructor: J2(i3, a3),
      fields: []
    };
  }, an = (e3, t3, n3, r3, i3, a3, o3, s3, c3, l3) => {
    F2[e3].fields.push({
      fieldName: H2(t3),
      getterReturnType: n3,
      getter: J2(r3, i3),
      getterContext: a3,
      setterArgumentType: o3,
      setter: J2(s3, c3),
      setterContext: l3
    });
  }, on = (e3, t3) => {
    t3 = H2(t3), G2(e3, {
      isVoid: true,
      name: t3,
      fromWireType: () => void 0,
      toWireType: (e4, t4) => void 0
    });
  }, sn = [], cn = (e3) => {
    var t3 = sn.length;
    return sn.push(e3), t3;
  }, ln = (e3, t3) => {
    var n3 = R2[e3];
    return n3 === void 0 && W2(`${t3} has unknown type ${vt(e3)}`), n3;
  }, un = (e3, t3) => {
    for (var n3 = Array(e3), r3 = 0; r3 < e3; ++r3) n3[r3] = ln(D2[t3 + r3 * 4 >> 2], `parameter ${r3}`);
    return n3;
  }, dn = (e3, t3, n3) => {
    var r3 = [], i3 = e3(r3, n3);
    return r3.length && (D2[t3 >> 2] = X2.toHandle(r3)), i3;
  }, fn = {}, pn = (e3) => {
    var t3 = fn[e3];
    return t3 === void 0 ? H2(e3) : t3;
  }, mn = (e3, t3, n3) => {
    var [r3, ...i3] = un(e3, t3), a3 = r3.toWireType.bind(r3), o3 = i3.map((e4) => e4.readValueFromPointer.bind(e4));
    e3--;
    var s3 = Array(e3);
    return cn(We(`methodCaller<(${i3.map((e4) => e4.name)}) => ${r3.name}>`, (t4, r4, i4, c3) => {
      for (var l3 = 0, u3 = 0; u3 < e3; ++u3) s3[u3] = o3[u3](c3 + l3), l3 += 8;
      var d3;
      switch (n3) {
        case 0:
          d3 = X2.toValue(t4).apply(null, s3);
          break;
        case 2:
          d3 = Reflect.construct(X2.toValue(t4), s3);
          break;
        case 3:
          d3 = s3[0];
          break;
        case 1:
          d3 = X2.toValue(t4)[pn(r4)](...s3);
      }
      return dn(a3, i4, d3);
    }));
  }, hn = (e3) => e3 ? (e3 = pn(e3), X2.toHandle(globalThis[e3])) : X2.toHandle(globalThis), gn = (e3) => {
    e3 > 9 && (Y2[e3 + 1] += 1);
  }, _n = (e3, t3, n3, r3, i3) => sn[e3](t3, n3, r3, i3), vn = (e3) => {
    De(X2.toValue(e3)), Ot(e3);
  }, yn = () => 2147483648, bn = (e3, t3) => Math.ceil(e3 / t3) * t3, xn = (e3) => {
    var t3 = (e3 - Fn.buffer.byteLength + 65535) / 65536 | 0;
    try {
      return Fn.grow(t3), y2(), 1;
    } catch {
    }
  }, Sn = (e3) => {
    var t3 = O2.length;
    e3 >>>= 0;
    var n3 = yn();
    if (e3 > n3) return false;
    for (var r3 = 1; r3 <= 4; r3 *= 2) {
      var i3 = t3 * (1 + 0.2 / r3);
      if (i3 = Math.min(i3, e3 + 100663296), xn(Math.min(n3, bn(Math.max(e3, i3), 65536)))) return true;
    }
    return false;
  }, Cn = (e3) => e3;
  if (He(), lt(), i2.noExitRuntime && i2.noExitRuntime, i2.print && i2.print, i2.printErr && (p2 = i2.printErr), i2.wasmBinary && (m2 = i2.wasmBinary), i2.arguments && i2.arguments, i2.thisProgram && i2.thisProgram, i2.preInit) for (typeof i2.preInit == "function" && (i2.preInit = [i2.preInit]); i2.preInit.length > 0; ) i2.preInit.shift()();
  var wn, Z, Tn, En, Q2, Dn, On, kn, An, jn, Mn, Nn, Pn, Fn, In;
  function Ln(e3) {
    wn = e3.sa, Z = i2._free = e3.ta, Tn = i2._malloc = e3.va, En = e3.wa, Q2 = e3.xa, Dn = e3.ya, On = e3.za, kn = e3.Aa, An = e3.Ba, jn = e3.Ca, Mn = e3.Da, Nn = ft.viijjijjjjjj = e3.Ea, Pn = ft.iiijj = e3.Fa, Fn = e3.qa, In = e3.ua;
  }
  var Rn = {
    r: ge,
    J: _e,
    a: be,
    i: xe,
    l: Se,
    T: Ce,
    q: we,
    e: Te,
    Z: Ee,
    na: ke,
    Y: Ae,
    ha: Me,
    la: bt,
    ka: wt,
    E: Et,
    fa: At,
    U: Mt,
    V: Nt,
    x: Ft,
    ja: Lt,
    s: Rt,
    ma: Bt,
    ga: Jt,
    P: nn,
    F: rn,
    oa: an,
    ia: on,
    I: mn,
    pa: Ot,
    C: hn,
    Q: gn,
    H: _n,
    aa: vn,
    _: Sn,
    da: ar,
    S: cr,
    z: mr,
    K: Kn,
    b: Vn,
    A: sr,
    ba: fr,
    d: Un,
    M: pr,
    h: Gn,
    j: Qn,
    p: $n,
    N: or,
    w: nr,
    O: tr,
    B: rr,
    W: yr,
    c: qn,
    m: zn,
    $: hr,
    g: Hn,
    R: lr,
    L: _r,
    f: Wn,
    G: gr,
    k: Bn,
    ca: ur,
    n: er,
    u: Yn,
    D: ir,
    y: Zn,
    t: dr,
    o: Jn,
    ea: Xn,
    X: vr,
    v: Cn
  };
  function zn(e3, t3) {
    var n3 = j2();
    try {
      q2(e3)(t3);
    } catch (e4) {
      if (A2(n3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Bn(e3, t3, n3, r3, i3) {
    var a3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3);
    } catch (e4) {
      if (A2(a3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Vn(e3, t3) {
    var n3 = j2();
    try {
      return q2(e3)(t3);
    } catch (e4) {
      if (A2(n3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Hn(e3, t3, n3) {
    var r3 = j2();
    try {
      q2(e3)(t3, n3);
    } catch (e4) {
      if (A2(r3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Un(e3, t3, n3) {
    var r3 = j2();
    try {
      return q2(e3)(t3, n3);
    } catch (e4) {
      if (A2(r3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Wn(e3, t3, n3, r3) {
    var i3 = j2();
    try {
      q2(e3)(t3, n3, r3);
    } catch (e4) {
      if (A2(i3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Gn(e3, t3, n3, r3) {
    var i3 = j2();
    try {
      return q2(e3)(t3, n3, r3);
    } catch (e4) {
      if (A2(i3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Kn(e3, t3, n3, r3, i3, a3) {
    var o3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3);
    } catch (e4) {
      if (A2(o3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function qn(e3) {
    var t3 = j2();
    try {
      q2(e3)();
    } catch (e4) {
      if (A2(t3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Jn(e3, t3, n3, r3, i3, a3, o3, s3, c3, l3, u3) {
    var d3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3, c3, l3, u3);
    } catch (e4) {
      if (A2(d3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Yn(e3, t3, n3, r3, i3, a3, o3) {
    var s3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3);
    } catch (e4) {
      if (A2(s3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Xn(e3, t3, n3, r3, i3, a3, o3, s3, c3, l3, u3, d3, f3, p3, m3, h3, g3) {
    var _3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3, c3, l3, u3, d3, f3, p3, m3, h3, g3);
    } catch (e4) {
      if (A2(_3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Zn(e3, t3, n3, r3, i3, a3, o3, s3, c3) {
    var l3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3, c3);
    } catch (e4) {
      if (A2(l3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function Qn(e3, t3, n3, r3, i3) {
    var a3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3);
    } catch (e4) {
      if (A2(a3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function $n(e3, t3, n3, r3, i3, a3) {
    var o3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3);
    } catch (e4) {
      if (A2(o3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function er(e3, t3, n3, r3, i3, a3) {
    var o3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3);
    } catch (e4) {
      if (A2(o3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function tr(e3, t3, n3, r3, i3, a3, o3, s3) {
    var c3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3, o3, s3);
    } catch (e4) {
      if (A2(c3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function nr(e3, t3, n3, r3, i3, a3, o3) {
    var s3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3, o3);
    } catch (e4) {
      if (A2(s3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function rr(e3, t3, n3, r3, i3, a3, o3, s3, c3) {
    var l3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3, o3, s3, c3);
    } catch (e4) {
      if (A2(l3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function ir(e3, t3, n3, r3, i3, a3, o3, s3) {
    var c3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3);
    } catch (e4) {
      if (A2(c3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function ar(e3, t3, n3) {
    var r3 = j2();
    try {
      return q2(e3)(t3, n3);
    } catch (e4) {
      if (A2(r3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function or(e3, t3, n3, r3, i3, a3, o3) {
    var s3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3, o3);
    } catch (e4) {
      if (A2(s3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function sr(e3, t3, n3, r3) {
    var i3 = j2();
    try {
      return q2(e3)(t3, n3, r3);
    } catch (e4) {
      if (A2(i3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function cr(e3, t3, n3, r3) {
    var i3 = j2();
    try {
      return q2(e3)(t3, n3, r3);
    } catch (e4) {
      if (A2(i3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function lr(e3, t3, n3, r3, i3, a3, o3, s3, c3) {
    var l3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3, c3);
    } catch (e4) {
      if (A2(l3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function ur(e3, t3, n3, r3, i3, a3, o3, s3) {
    var c3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3);
    } catch (e4) {
      if (A2(c3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function dr(e3, t3, n3, r3, i3, a3, o3, s3, c3, l3) {
    var u3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3, s3, c3, l3);
    } catch (e4) {
      if (A2(u3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function fr(e3, t3, n3) {
    var r3 = j2();
    try {
      return q2(e3)(t3, n3);
    } catch (e4) {
      if (A2(r3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function pr(e3, t3, n3, r3, i3) {
    var a3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3);
    } catch (e4) {
      if (A2(a3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function mr(e3, t3, n3, r3, i3, a3) {
    var o3 = j2();
    try {
      return q2(e3)(t3, n3, r3, i3, a3);
    } catch (e4) {
      if (A2(o3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function hr(e3, t3, n3) {
    var r3 = j2();
    try {
      q2(e3)(t3, n3);
    } catch (e4) {
      if (A2(r3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function gr(e3, t3, n3, r3, i3, a3, o3) {
    var s3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3, a3, o3);
    } catch (e4) {
      if (A2(s3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function _r(e3, t3, n3, r3, i3) {
    var a3 = j2();
    try {
      q2(e3)(t3, n3, r3, i3);
    } catch (e4) {
      if (A2(a3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function vr(e3, t3, n3, r3, i3, a3, o3, s3, c3, l3, u3, d3, f3, p3, m3, h3, g3, _3, v3, y3) {
    var ee2 = j2();
    try {
      Nn(e3, t3, n3, r3, i3, a3, o3, s3, c3, l3, u3, d3, f3, p3, m3, h3, g3, _3, v3, y3);
    } catch (e4) {
      if (A2(ee2), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function yr(e3, t3, n3, r3, i3, a3, o3) {
    var s3 = j2();
    try {
      return Pn(e3, t3, n3, r3, i3, a3, o3);
    } catch (e4) {
      if (A2(s3), e4 !== e4 + 0) throw e4;
      Q2(1, 0);
    }
  }
  function br() {
    ee();
    function e3() {
      var e4, t3;
      i2.calledRun = true, !h2 && (te(), (e4 = g2) == null || e4(i2), (t3 = i2.onRuntimeInitialized) == null || t3.call(i2), ne());
    }
    i2.setStatus ? (i2.setStatus("Running..."), setTimeout(() => {
      setTimeout(() => i2.setStatus(""), 1), e3();
    }, 1)) : e3();
  }
  var $2 = await ue();
  return br(), t2 = v2 ? i2 : new Promise((e3, t3) => {
    g2 = e3, _2 = t3;
  }), t2;
}
function T2(e2) {
  return q(w2, e2);
}
function E2() {
  return J(w2);
}
async function k2(e2, t2) {
  return X(w2, e2, t2);
}
export {
  T2 as prepareZXingModule,
  E2 as purgeZXingModule,
  k2 as readBarcodes
};
