// Emulated time. One clock serves one life of the chip, from a reset to the next: the chip's timer, its peripherals
// and the models of the parts all hang their alarms on it, and it alone decides what happens next.
//
// Times are nanoseconds since that reset; `bornAt` is when the reset was, in nanoseconds since the board was first
// switched on. rp2040js asks for `nanos` and `createAlarm`; the run loop of chip.mjs calls `advance`.

/** Something to be called at a time. At most one call is due; scheduling anew moves it. */
class Alarm {
    constructor(clock, callback) {
        this.clock = clock;
        this.callback = callback;
        this.at = 0;
        this.next = null;
        this.scheduled = false;
    }

    /** Calls back in `deltaNanos` from now. */
    schedule(deltaNanos) {
        this.cancel();
        this.at = this.clock.nanos + deltaNanos;
        this.clock.insert(this);
    }

    /** Calls back at a time since the board was first switched on; at once when that is past. */
    scheduleAt(absoluteNanos) {
        this.schedule(Math.max(0, absoluteNanos - this.clock.now));
    }

    cancel() {
        if (this.scheduled) this.clock.remove(this);
    }
}

export class Clock {
    constructor(bornAt = 0) {
        this.bornAt = bornAt;
        this.nanos = 0;
        /** When the next alarm is due; Infinity when none is. */
        this.due = Infinity;
        this.first = null;
    }

    /** Nanoseconds since the board was first switched on. */
    get now() {
        return this.bornAt + this.nanos;
    }

    createAlarm(callback) {
        return new Alarm(this, callback);
    }

    /** Lets time pass, and calls the alarms that fall due, in order, each at its own time. */
    advance(deltaNanos) {
        const target = this.nanos + deltaNanos;
        while (this.due <= target) {
            const alarm = this.first;
            this.nanos = alarm.at;
            this.remove(alarm);
            alarm.callback();
        }
        this.nanos = target;
    }

    // A short list in order of time: a dozen alarms at most are due at once. Of two for the same time the one that
    // was scheduled first comes first.
    insert(alarm) {
        let before = null;
        let after = this.first;
        while (after !== null && after.at <= alarm.at) {
            before = after;
            after = after.next;
        }
        alarm.next = after;
        alarm.scheduled = true;
        if (before === null) this.first = alarm;
        else before.next = alarm;
        this.due = this.first.at;
    }

    remove(alarm) {
        if (this.first === alarm) {
            this.first = alarm.next;
        } else {
            let before = this.first;
            while (before.next !== alarm) before = before.next;
            before.next = alarm.next;
        }
        alarm.next = null;
        alarm.scheduled = false;
        this.due = this.first === null ? Infinity : this.first.at;
    }
}
