/* A logger for calib on a bare ATmega328P board.
 *
 * It reads its own analog pins and sends what it read on its own serial line. It has no input but
 * those pins: it takes no commands, and it is never connected to a controller's data port.
 *
 * Each line: milliseconds since the start, then one count (0 to 1023) a channel. A header line
 * comes first. A count c stands for volts from c * Vref / 1024 up to (c + 1) * Vref / 1024.
 *
 * Pins: A0 is the first channel, A1 the second, and so on; ground to the sensor's ground, never to
 * the frame. No pin may see more than the board's supply.
 *
 * Build:  avr-gcc -mmcu=atmega328p -Os -std=c11 -o logger.elf logger_atmega328p.c
 *         avr-objcopy -O ihex logger.elf logger.hex
 */

/* What may be changed ------------------------------------------------------------------------ */
#define CHANNELS 6       /* 1 to 8; a board in the slim housing has 6 */
#define RATE_HZ 100      /* lines a second; must divide 1000 */
#define BAUD 115200
#define CHECKSUM 0       /* 1: each line ends in *hh, the exclusive or of what comes before */
#define REFERENCE_MV 5000 /* 5000: the supply; 1100: the internal reference, near 1.1 V */
#ifndef F_CPU
#define F_CPU 16000000UL
#endif
/* -------------------------------------------------------------------------------------------- */

#define BAUD_TOL 3 /* 115200 from 16 MHz is really 117647, 2.1 % fast: within a UART's reach */

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <stdint.h>
#include <util/atomic.h>
#include <util/setbaud.h>

#define PERIOD_MS (1000 / RATE_HZ)
#define LONGEST_LINE (10 + 5 * CHANNELS + 3 * CHECKSUM + 2)
#define SCAN_US (CHANNELS * 2 * 120UL)

#if CHANNELS < 1 || CHANNELS > 8
#error CHANNELS must be 1 to 8
#endif
#if 1000 % RATE_HZ
#error RATE_HZ must divide 1000
#endif
#if LONGEST_LINE * 11000000UL / BAUD + SCAN_US > 1000UL * PERIOD_MS
#error The longest line does not fit between two samples: lower RATE_HZ or CHANNELS, or raise BAUD
#endif

static volatile uint32_t milliseconds;
static uint8_t sum;

ISR(TIMER1_COMPA_vect)
{
    milliseconds++;
}

static uint32_t now_ms(void)
{
    uint32_t copy;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        copy = milliseconds;
    }
    return copy;
}

static void start_clock(void)
{
    TCCR1B = _BV(WGM12) | _BV(CS11) | _BV(CS10); /* count to OCR1A, clock / 64 */
    OCR1A = F_CPU / 64 / 1000 - 1;
    TIMSK1 = _BV(OCIE1A);
}

static void start_converter(void)
{
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0); /* clock / 128 = 125 kHz */
    DIDR0 = 0x3f; /* the digital side of the analog pins would only load them */
}

static void start_line(void)
{
    UBRR0 = UBRR_VALUE;
#if USE_2X
    UCSR0A = _BV(U2X0);
#endif
    UCSR0B = _BV(TXEN0);                /* it never listens */
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00); /* 8 bits, no parity, one stop bit */
}

static uint16_t convert(void)
{
    ADCSRA |= _BV(ADSC);
    while (ADCSRA & _BV(ADSC)) {
    }
    return ADC;
}

/* One channel. The first conversion after a change of channel still remembers the neighbour when
 * the source has some resistance, so it is thrown away. */
static uint16_t read_channel(uint8_t channel)
{
#if REFERENCE_MV == 1100
    ADMUX = _BV(REFS1) | _BV(REFS0) | channel;
#else
    ADMUX = _BV(REFS0) | channel;
#endif
    convert();
    return convert();
}

static void put(char letter)
{
    while (!(UCSR0A & _BV(UDRE0))) {
    }
    UDR0 = (uint8_t)letter;
    sum ^= (uint8_t)letter;
}

static void put_text(const char *text)
{
    while (*text) {
        put(*text++);
    }
}

static void put_number(uint32_t number)
{
    char digits[10];
    uint8_t count = 0;
    do {
        digits[count++] = (char)('0' + number % 10);
        number /= 10;
    } while (number);
    while (count) {
        put(digits[--count]);
    }
}

static void end_line(void)
{
#if CHECKSUM
    static const char hex[] = "0123456789ABCDEF";
    uint8_t done = sum;
    put('*');
    put(hex[done >> 4]);
    put(hex[done & 15]);
#endif
    put_text("\r\n");
    sum = 0;
}

static void send_header(void)
{
    put_text("t_ms");
    for (uint8_t channel = 0; channel < CHANNELS; channel++) {
        put_text(",a");
        put((char)('0' + channel));
    }
    end_line();
}

static void send_sample(void)
{
    uint16_t counts[CHANNELS];
    uint32_t time_ms = now_ms();
    for (uint8_t channel = 0; channel < CHANNELS; channel++) {
        counts[channel] = read_channel(channel);
    }
    put_number(time_ms);
    for (uint8_t channel = 0; channel < CHANNELS; channel++) {
        put(',');
        put_number(counts[channel]);
    }
    end_line();
}

int main(void)
{
    start_clock();
    start_converter();
    start_line();
    set_sleep_mode(SLEEP_MODE_IDLE);
    sei();
    send_header();
    for (uint32_t due_ms = now_ms() + PERIOD_MS;; due_ms += PERIOD_MS) {
        while ((int32_t)(now_ms() - due_ms) < 0) {
            sleep_mode(); /* until the next millisecond */
        }
        send_sample();
    }
}
