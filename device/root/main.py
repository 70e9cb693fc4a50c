import micropython

micropython.kbd_intr(-1)  # first of all: Modbus function 3 is byte 0x03, which the console takes for Ctrl-C

import machine  # noqa: E402

ESCAPE_PIN = 22  # joined to ground at boot: no board is started, the prompt is yours

if machine.Pin(ESCAPE_PIN, machine.Pin.IN, machine.Pin.PULL_UP).value():
    while True:
        try:
            from lampboard.boards import pico

            pico.start()
            break
        except KeyboardInterrupt:
            pass
        except BaseException as error:
            try:
                pico.fail(error)
            finally:  # also when there is no `pico` to ask: a reset leaves every lamp pin to its pull-down
                machine.reset()

micropython.kbd_intr(3)
