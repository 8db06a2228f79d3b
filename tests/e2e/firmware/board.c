/* A board for the tests: an ATmega328P executed instruction by instruction in simavr, its UART on a
 * pseudo-terminal, its analog pins driven from a file of millivolts.
 *
 * board ELF VOLTS SPEED [EDGES PIN]
 *   VOLTS  text, one line a moment: seconds and millivolts of each pin; straight lines between.
 *   SPEED  how many times as fast as real time.
 *   EDGES  text, one time in seconds a line, at which digital pin PIN of port D changes; low first.
 * The pseudo-terminal's path is the first line on stdout. As on a real board, opening the port
 * resets the processor. */

#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include <simavr/avr_adc.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>

#define PINS 8
#define MOMENTS 65536
#define REFERENCE_MV 5000
#define CLOCK_HZ 16000000UL

struct moment {
    double time_s;
    double mv[PINS];
};

static struct moment moments[MOMENTS];
static size_t moment_count;
static avr_cycle_count_t edges[1 << 18];
static size_t edge_count, edge_next;
static int edge_pin;
static avr_t *avr;
static int master;
static char pending[1 << 16];
static size_t pending_size;

static void die(const char *what)
{
    perror(what);
    exit(1);
}

static void read_volts(const char *path)
{
    FILE *file = fopen(path, "r");
    char line[512];
    if (!file)
        die(path);
    while (moment_count < MOMENTS && fgets(line, sizeof line, file)) {
        struct moment *now = &moments[moment_count];
        char *at = line, *end;
        now->time_s = strtod(at, &end);
        for (int pin = 0; pin < PINS && end != at; pin++) {
            at = end;
            now->mv[pin] = strtod(at, &end);
        }
        moment_count++;
    }
    fclose(file);
    if (!moment_count) {
        fprintf(stderr, "%s holds no moment\n", path);
        exit(1);
    }
}

static void read_edges(const char *path)
{
    FILE *file = fopen(path, "r");
    double time_s;
    if (!file)
        die(path);
    while (edge_count < sizeof edges / sizeof *edges && fscanf(file, "%lf", &time_s) == 1)
        edges[edge_count++] = (avr_cycle_count_t)(time_s * CLOCK_HZ);
    fclose(file);
}

/* Called at the cycle of an edge; the cycle of the next one, or 0 after the last. */
static avr_cycle_count_t edge_comes(avr_t *processor, avr_cycle_count_t when, void *param)
{
    (void)param;
    (void)when;
    avr_raise_irq(avr_io_getirq(processor, AVR_IOCTL_IOPORT_GETIRQ('D'), edge_pin),
                  ++edge_next % 2);
    return edge_next < edge_count ? edges[edge_next] : 0;
}

static double pin_mv(int pin, double time_s)
{
    static size_t at;
    if (time_s < moments[at].time_s)
        at = 0;
    while (at + 1 < moment_count && moments[at + 1].time_s <= time_s)
        at++;
    if (at + 1 == moment_count || time_s < moments[at].time_s)
        return moments[at].mv[pin];
    double share = (time_s - moments[at].time_s) / (moments[at + 1].time_s - moments[at].time_s);
    return moments[at].mv[pin] + share * (moments[at + 1].mv[pin] - moments[at].mv[pin]);
}

/* simavr turns whole millivolts into counts with mV * 1023 / Vref; the data sheet says
 * floor(V * 1024 / Vref). So the millivolts are chosen that give the data sheet's count. */
static uint32_t millivolts_for(double mv)
{
    double exact = mv * 1024 / REFERENCE_MV;
    long count = exact < 0 ? 0 : exact > 1023 ? 1023 : (long)exact;
    return (uint32_t)((count * REFERENCE_MV + 1022) / 1023);
}

static void converting(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    avr_adc_mux_t mux = {0};
    memcpy(&mux, &value, sizeof value);
    double time_s = (double)avr->cycle / CLOCK_HZ;
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, mux.src),
                  millivolts_for(pin_mv(mux.src, time_s)));
}

static void sent(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    if (pending_size < sizeof pending)
        pending[pending_size++] = (char)value;
}

/* simavr's UART takes 11 bit times for a byte of 10: start, eight of data, stop. */
static void correct_pace(void)
{
    static avr_cycle_count_t corrected;
    for (avr_io_t *io = avr->io_port; io; io = io->next) {
        avr_uart_t *uart = (avr_uart_t *)io;
        if (!strcmp(io->kind, "uart") && uart->name == '0' && uart->cycles_per_byte != corrected) {
            corrected = uart->cycles_per_byte * 10 / 11;
            uart->cycles_per_byte = corrected;
        }
    }
}

static int is_open(void)
{
    struct pollfd at = {.fd = master, .events = POLLOUT};
    return poll(&at, 1, 0) >= 0 && !(at.revents & POLLHUP);
}

/* Hand over what the UART has sent; wait where the reader is slow, so that no byte is lost. */
static void flush(void)
{
    size_t done = 0;
    while (done < pending_size && is_open()) {
        ssize_t count = write(master, pending + done, pending_size - done);
        if (count > 0)
            done += (size_t)count;
        else if (errno == EAGAIN)
            usleep(500);
        else
            break;
    }
    pending_size = 0;
}

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void quiet(avr_t *processor, const int level, const char *format, va_list arguments)
{
    (void)processor;
    (void)level;
    (void)format;
    (void)arguments;
}

/* The processor sleeps until its next timer: the main loop keeps the pace, so nobody waits here. */
static void no_sleep(avr_t *processor, avr_cycle_count_t cycles)
{
    (void)processor;
    (void)cycles;
}

static void start_board(const char *elf)
{
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(elf, &firmware))
        die(elf);
    avr = avr_make_mcu_by_name("atmega328p");
    if (!avr)
        die("atmega328p");
    avr_init(avr);
    avr->frequency = CLOCK_HZ;
    avr->vcc = avr->avcc = avr->aref = REFERENCE_MV;
    avr_load_firmware(avr, &firmware);
    avr->frequency = CLOCK_HZ;
    avr->vcc = avr->avcc = avr->aref = REFERENCE_MV;
    avr->sleep = no_sleep;
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), sent,
                            NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER),
                            converting, NULL);
}

static void open_terminal(void)
{
    int slave;
    struct termios raw;
    char path[128];
    if (openpty(&master, &slave, path, NULL, NULL))
        die("openpty");
    tcgetattr(slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    close(slave);
    fcntl(master, F_SETFL, O_NONBLOCK);
    printf("%s\n", path);
    fflush(stdout);
}

int main(int count, char **words)
{
    if (count != 4 && count != 6) {
        fprintf(stderr, "usage: board ELF VOLTS SPEED [EDGES PIN]\n");
        return 2;
    }
    signal(SIGPIPE, SIG_IGN);
    avr_global_logger_set(quiet);
    read_volts(words[2]);
    double speed = strtod(words[3], NULL);
    if (count == 6) {
        read_edges(words[4]);
        edge_pin = atoi(words[5]);
    }
    start_board(words[1]);
    open_terminal();
    for (;;) {
        while (!is_open())
            usleep(5000);
        usleep(100000); /* opening the port drops what had already come */
        avr_reset(avr);
        avr->cycle = 0;
        pending_size = 0;
        edge_next = 0;
        int edges_due = edge_count > 0;
        double start_s = now_s();
        while (is_open()) {
            avr_cycle_count_t due = (avr_cycle_count_t)((now_s() - start_s) * speed * CLOCK_HZ);
            correct_pace();
            while (avr->cycle < due) {
                int state = avr_run(avr);
                if (edges_due) { /* not before it runs: simavr would begin at the first edge */
                    edges_due = 0;
                    avr_cycle_timer_register(avr, edges[0] - avr->cycle, edge_comes, NULL);
                }
                if (state == cpu_Done || state == cpu_Crashed)
                    return 1;
                if (pending_size > 2048)
                    flush();
            }
            flush();
            usleep(1000);
        }
    }
}
