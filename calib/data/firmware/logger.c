/* Logger firmware of calib for a bare ATmega328P board.
 *
 * It reads the analog inputs A0, A1, ... at a fixed rate and sends them as text:
 *
 *     t_ms,a0,a1,...      once, at the start
 *     1230,512,87,...     then line by line: milliseconds since the start, counts 0 to 1023
 *
 * Each line ends in CR LF, and with CHECKSUM 1 in *hh before it: the exclusive or of the bytes
 * before the star, as two hexadecimal digits. 8 data bits, no parity, 1 stop bit.
 *
 * With WHEEL_PIN 2 or 3 a last column, wheel, counts the rising edges at that digital pin, 0 to
 * 65535 and from 0 again. An edge within WHEEL_QUIET_US of the edge before it, of either kind, is a
 * contact's bounce and does not count.
 *
 * For a bare logger board, never for a motor controller. It only sends: the serial receiver stays
 * off, and no pin is driven but the serial output.
 */
#define F_CPU 16000000UL /* the board's crystal, in Hz */
#define BAUD 115200UL    /* bits a second */
#define RATE_HZ 100      /* lines a second; must divide 1000 */
#define CHANNELS 6       /* analog inputs from A0 on, 1 to 8 */
#define CHECKSUM 0       /* 1: end each line in *hh */
#define WHEEL_PIN 0      /* 2 or 3: count the wheel's pulses at PD2 or PD3; 0: no wheel */
#define WHEEL_QUIET_US 100 /* microseconds without an edge before one that counts */

#define BAUD_TOL 3 /* per cent; 115200 at 16 MHz is really 117647, 2.1 per cent fast */

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <util/atomic.h>
#include <util/setbaud.h>

#if 1000 % RATE_HZ
#error "RATE_HZ must divide 1000: time is counted in whole milliseconds"
#endif
#if CHANNELS < 1 || CHANNELS > 8
#error "CHANNELS must be 1 to 8"
#endif
#if WHEEL_PIN != 0 && WHEEL_PIN != 2 && WHEEL_PIN != 3
#error "WHEEL_PIN must be 2 or 3, the pins that interrupt on an edge, or 0"
#endif

#define PERIOD_MS (1000 / RATE_HZ)
#define TIMER_COUNTS (F_CPU / 8 / 1000) /* of the timer, behind its divider by 8, in 1 ms */
#define LONGEST_LINE (10 + 5 * CHANNELS + 6 + 3 + 2 + 1) /* time, counts, wheel, checksum, end */

static volatile uint32_t now_ms;
static volatile uint8_t due;

/* What waits to be sent; the indices of 8 bits wrap where the queue of 256 bytes does. */
static volatile uint8_t queue[256];
static volatile uint8_t queue_in, queue_out;

ISR(TIMER1_COMPA_vect)
{
    static uint16_t since_ms;

    ++now_ms;
    if (++since_ms == PERIOD_MS) {
        since_ms = 0;
        due = 1;
    }
}

#if WHEEL_PIN
#if WHEEL_PIN == 2
#define WHEEL_vect INT0_vect
#define WHEEL_ANY_EDGE _BV(ISC00)
#define WHEEL_ENABLE _BV(INT0)
#else
#define WHEEL_vect INT1_vect
#define WHEEL_ANY_EDGE _BV(ISC10)
#define WHEEL_ENABLE _BV(INT1)
#endif

static volatile uint16_t wheel;

ISR(WHEEL_vect)
{
    static uint32_t before_us;
    uint16_t counts = TCNT1;
    uint32_t ms = now_ms;
    uint32_t now_us;

    /* the timer may have started again while this waited its turn */
    if ((TIFR1 & _BV(OCF1A)) && counts < TIMER_COUNTS / 2)
        ++ms;
    now_us = ms * 1000 + counts / (TIMER_COUNTS / 1000);
    if ((PIND & _BV(WHEEL_PIN)) && now_us - before_us >= WHEEL_QUIET_US)
        ++wheel;
    before_us = now_us;
}
#endif

ISR(USART_UDRE_vect)
{
    UDR0 = queue[queue_out++];
    if (queue_out == queue_in)
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
}

static void start(void)
{
    DIDR0 = 0x3F; /* no digital input on the analog pins */
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0); /* 125 kHz at 16 MHz */

    UBRR0 = UBRR_VALUE;
    UCSR0A = USE_2X ? _BV(U2X0) : 0;
    UCSR0B = _BV(TXEN0); /* the receiver stays off */
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);

    OCR1A = TIMER_COUNTS - 1;
    TCCR1B = _BV(WGM12) | _BV(CS11); /* back to zero at OCR1A; divider by 8 */
    TIMSK1 = _BV(OCIE1A);

#if WHEEL_PIN
    EICRA = WHEEL_ANY_EDGE;
    EIMSK = WHEEL_ENABLE;
#endif

    set_sleep_mode(SLEEP_MODE_IDLE);
    sei();
}

/* Take the line whole or not at all: a full queue must not make halves of lines. */
static void send(const char *line)
{
    uint8_t length = (uint8_t)strlen(line);

    if ((uint8_t)(queue_out - queue_in - 1) < length)
        return;
    for (uint8_t index = 0; index < length; ++index)
        queue[(uint8_t)(queue_in + index)] = (uint8_t)line[index];
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        queue_in += length;
        UCSR0B |= _BV(UDRIE0);
    }
}

/* End the line that stands between line and end, and send it. */
static void send_ended(char *line, char *end)
{
#if CHECKSUM
    static const char digits[] = "0123456789ABCDEF";
    uint8_t sum = 0;

    for (const char *at = line; at != end; ++at)
        sum ^= (uint8_t)*at;
    *end++ = '*';
    *end++ = digits[sum >> 4];
    *end++ = digits[sum & 0x0F];
#endif
    *end++ = '\r';
    *end++ = '\n';
    *end = '\0';
    send(line);
}

static void send_header(void)
{
    char line[LONGEST_LINE] = "t_ms";
    char *end = line + 4;

    for (uint8_t pin = 0; pin < CHANNELS; ++pin) {
        *end++ = ',';
        *end++ = 'a';
        *end++ = (char)('0' + pin);
    }
#if WHEEL_PIN
    memcpy(end, ",wheel", 6);
    end += 6;
#endif
    send_ended(line, end);
}

static void convert(void)
{
    ADCSRA |= _BV(ADSC);
    while (ADCSRA & _BV(ADSC))
        ;
}

/* Counts at one pin, against the supply. */
static uint16_t read_pin(uint8_t pin)
{
    ADMUX = _BV(REFS0) | pin;
    convert(); /* thrown away: the sampling capacitor still held the pin before */
    convert();
    return ADC;
}

static void send_scan(uint32_t t_ms)
{
    char line[LONGEST_LINE];
    char *end = line;
#if WHEEL_PIN
    uint16_t pulses;
#endif

    ultoa(t_ms, end, 10);
    for (uint8_t pin = 0; pin < CHANNELS; ++pin) {
        end += strlen(end);
        *end++ = ',';
        utoa(read_pin(pin), end, 10);
    }
    end += strlen(end);
#if WHEEL_PIN
    *end++ = ',';
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        pulses = wheel;
    }
    utoa(pulses, end, 10);
    end += strlen(end);
#endif
    send_ended(line, end);
}

/* Sleep until a scan is due; the time at which it is. */
static uint32_t wait_until_due(void)
{
    uint32_t t_ms;

    cli();
    while (!due) {
        sleep_enable();
        sei(); /* takes effect after the next instruction: nothing is slept through */
        sleep_cpu();
        sleep_disable();
        cli();
    }
    due = 0;
    t_ms = now_ms;
    sei();
    return t_ms;
}

int main(void)
{
    start();
    send_header();
    for (;;)
        send_scan(wait_until_due());
}
