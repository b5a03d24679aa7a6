// A computer at the USB socket: it enumerates the board as a serial port, and sends and receives bytes.
//
// Built on the CDC host of rp2040js, with two mends: the line state goes to the interface, as the class wants it (USB
// CDC PSTN 1.2, SetControlLineState), and a buffer that the program offers is kept until there is something to put
// into it, where the package answers each offer at once with nothing and so never lets the program sleep.
// Packets take the package's 10 us; a real bus is slower under load and never answers by the microsecond.

import { DataDirection, SetupRecipient, SetupType, USBCDC, createSetupPacket } from 'rp2040js';

const SET_CONTROL_LINE_STATE = 0x22;
/** DTR and RTS: a program on the computer has opened the port. */
const OPEN = 0b11;

export class UsbHost {
    /** `script` is a list of {at, bytes} in order of time, in nanoseconds since the board was first switched on. */
    constructor(script, log) {
        this.script = script;
        this.next = 0;
        this.log = log;
        /** What came from the board: {t_us, hex}. */
        this.received = [];
        this.enumerations = 0;
    }

    attach(chip) {
        this.outbox = [];
        this.offers = new Map();
        this.ready = false;
        this.usb = chip.mcu.usbCtrl;
        this.cdc = new USBCDC(this.usb);
        this.cdc.cdcSetControlLineState = () => this.openPort();
        this.usb.onEndpointRead = (endpoint, size) => this.offered(endpoint, size);
        this.cdc.onSerialData = (bytes) => this.take(bytes);
        this.cdc.onDeviceConnected = () => {
            this.enumerations++;
            this.ready = true;
            this.flush();
        };
        this.alarm = chip.clock.createAlarm(() => this.due(chip.clock.now));
        this.schedule();
    }

    schedule() {
        if (this.next < this.script.length) this.alarm.scheduleAt(this.script[this.next].at);
    }

    /** Script lines whose time has come go to the outbox; before the board is known, they wait there. */
    due(now) {
        while (this.next < this.script.length && this.script[this.next].at <= now) {
            this.outbox.push(...this.script[this.next++].bytes);
        }
        this.flush();
        this.schedule();
    }

    openPort() {
        this.usb.sendSetupPacket(createSetupPacket({
            dataDirection: DataDirection.HostToDevice,
            type: SetupType.Class,
            recipient: SetupRecipient.Interface,
            bRequest: SET_CONTROL_LINE_STATE,
            wValue: OPEN,
            wIndex: 0,
            wLength: 0,
        }));
        this.cdc.initialized = true;
    }

    /** The program has a free buffer of `size` bytes at an endpoint. */
    offered(endpoint, size) {
        this.offers.set(endpoint, size);
        this.flush();
    }

    flush() {
        const endpoint = this.cdc.outEndpoint;
        const size = this.offers.get(endpoint);
        if (!this.ready || size === undefined || this.outbox.length === 0) return;
        this.offers.delete(endpoint);
        this.usb.endpointReadDone(endpoint, Uint8Array.from(this.outbox.splice(0, size)));
    }

    take(bytes) {
        if (bytes.length === 0) return;
        this.received.push({ t_us: this.log.now / 1000, hex: Buffer.from(bytes).toString('hex') });
    }
}

/** Reads a script: lines of `<t> send <hex>`, times in microseconds; `#` comments. */
export function parseUsbScript(text) {
    const lines = text.split('\n').map((line) => line.split('#', 1)[0].trim());
    let last = 0;
    return lines.flatMap((line, i) => {
        if (line === '') return [];
        const [, time, hex] = /^(\d+) send ((?:[0-9a-f]{2})+)$/i.exec(line) ?? [];
        if (time === undefined) throw new Error(`line ${i + 1}: '<t> send <hex>' was expected`);
        if (Number(time) < last) throw new Error(`line ${i + 1}: the time ${time} is before that of the line above`);
        last = Number(time);
        return [{ at: last * 1000, bytes: [...Buffer.from(hex, 'hex')] }];
    });
}
