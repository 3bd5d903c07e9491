// Argon2id in a second thread, for a caller that cannot await: the one that asks
// stands still until the answer is there.
import { isMainThread, parentPort, workerData, Worker, MessageChannel,
  receiveMessageOnPort } from "node:worker_threads";
import { fileURLToPath } from "node:url";

if (!isMainThread) {
  await import(workerData.primitives);
  parentPort.on("message", async ({ given, port, done }) => {
    try {
      port.postMessage({ key: await globalThis.examPrimitives.deriveKey(...given) });
    } catch (error) {
      port.postMessage({ fault: String(error) });
    }
    Atomics.store(done, 0, 1);
    Atomics.notify(done, 0);
  });
}

export function derivation(primitives) {
  let worker;
  return (...given) => {
    worker ??= new Worker(fileURLToPath(import.meta.url), { workerData: { primitives } });
    worker.unref();
    const done = new Int32Array(new SharedArrayBuffer(4));
    const { port1, port2 } = new MessageChannel();
    worker.postMessage({ given, port: port2, done }, [port2]);
    Atomics.wait(done, 0, 0);
    const { key, fault } = receiveMessageOnPort(port1).message;
    port1.close();
    if (fault) throw new Error(fault);
    return key;
  };
}
