/*
 * A Modbus RTU device for tests, built on libmodbus.
 *
 *     slave DEVICE UNIT
 *
 * It serves 1000 coils, discrete inputs, holding and input registers on a
 * terminal and is told what to hold and how to misbehave by lines on its
 * standard input, each of which it answers with "ok" or "error":
 *
 *     coil A V | discrete A V | holding A V | input A V
 *     holdingf A V | inputf A V      float, high word first
 *     holdingfl A V | inputfl A V    float, low word first
 *     corrupt N     the next N replies get a wrong CRC
 *     refuse N C    the next N requests are refused with exception C
 *     mute 0|1      requests are read and not answered
 *     delay MS      replies come this much later
 *
 * It ends when its standard input does.
 */
#include <errno.h>
#include <modbus.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/select.h>
#include <time.h>
#include <unistd.h>

#define SIZE 1000

static modbus_mapping_t *map;
static int corrupt, refuse, refuse_code, mute, delay_ms;

static uint16_t *registers(const char *table)
{
    if (strncmp(table, "holding", 7) == 0)
        return map->tab_registers;
    if (strncmp(table, "input", 5) == 0)
        return map->tab_input_registers;
    return NULL;
}

/* Written out here, since the byte order of modbus_set_float_abcd and its kin
 * is not the same in every version of libmodbus. */
static void set_float(uint16_t *words, float value, int high)
{
    uint32_t bits;

    memcpy(&bits, &value, sizeof bits);
    words[high] = (uint16_t)(bits >> 16);
    words[1 - high] = (uint16_t)bits;
}

static int set(const char *table, int address, const char *value)
{
    uint16_t *words = registers(table);
    if (address < 0 || address >= SIZE)
        return -1;
    if (strcmp(table, "coil") == 0)
        map->tab_bits[address] = atoi(value) != 0;
    else if (strcmp(table, "discrete") == 0)
        map->tab_input_bits[address] = atoi(value) != 0;
    else if (words == NULL)
        return -1;
    else if (table[strlen(table) - 1] == 'f' && address + 1 < SIZE)
        set_float(words + address, strtof(value, NULL), 0);
    else if (table[strlen(table) - 1] == 'l' && address + 1 < SIZE)
        set_float(words + address, strtof(value, NULL), 1);
    else
        words[address] = (uint16_t)strtol(value, NULL, 0);
    return 0;
}

static void obey(char *line)
{
    char word[16], value[32];
    int number, count, ok = 1;

    if (sscanf(line, "corrupt %d", &number) == 1)
        corrupt = number;
    else if (sscanf(line, "refuse %d %d", &number, &count) == 2)
        refuse = number, refuse_code = count;
    else if (sscanf(line, "mute %d", &number) == 1)
        mute = number;
    else if (sscanf(line, "delay %d", &number) == 1)
        delay_ms = number;
    else
        ok = sscanf(line, "%15s %d %31s", word, &number, value) == 3 && set(word, number, value) == 0;
    puts(ok ? "ok" : "error");
    fflush(stdout);
}

/* Has libmodbus write its reply into a pipe, so that it can be damaged. */
static int reply_with_wrong_crc(modbus_t *device, const uint8_t *request, int length)
{
    uint8_t reply[MODBUS_RTU_MAX_ADU_LENGTH];
    int terminal = modbus_get_socket(device), ends[2], n;

    if (pipe(ends) != 0)
        return -1;
    modbus_set_socket(device, ends[1]);
    n = modbus_reply(device, request, length, map);
    modbus_set_socket(device, terminal);
    if (n > 0)
        n = (int)read(ends[0], reply, sizeof reply);
    close(ends[0]);
    close(ends[1]);
    if (n <= 0)
        return -1;
    reply[n - 1] ^= 0x5A;
    return write(terminal, reply, (size_t)n) == n ? n : -1;
}

static void serve(modbus_t *device)
{
    uint8_t request[MODBUS_RTU_MAX_ADU_LENGTH];
    int length = modbus_receive(device, request);

    if (length <= 0 || mute) /* noise, or for another unit */
        return;
    if (delay_ms > 0) {
        struct timespec pause = {delay_ms / 1000, delay_ms % 1000 * 1000000L};
        nanosleep(&pause, NULL);
    }
    if (refuse > 0) {
        refuse--;
        modbus_reply_exception(device, request, (unsigned)refuse_code);
    } else if (corrupt > 0) {
        corrupt--;
        reply_with_wrong_crc(device, request, length);
    } else {
        modbus_reply(device, request, length, map);
    }
}

int main(int argc, char **argv)
{
    modbus_t *device;
    char line[128];
    size_t have = 0;

    if (argc != 3) {
        fprintf(stderr, "use: slave DEVICE UNIT\n");
        return 2;
    }
    device = modbus_new_rtu(argv[1], 115200, 'N', 8, 1);
    map = modbus_mapping_new(SIZE, SIZE, SIZE, SIZE);
    if (device == NULL || map == NULL || modbus_set_slave(device, atoi(argv[2])) != 0 || modbus_connect(device) != 0) {
        fprintf(stderr, "slave: %s: %s\n", argv[1], modbus_strerror(errno));
        return 3;
    }
    puts("ready");
    fflush(stdout);
    for (;;) {
        int terminal = modbus_get_socket(device);
        fd_set ready;

        FD_ZERO(&ready);
        FD_SET(STDIN_FILENO, &ready);
        FD_SET(terminal, &ready);
        if (select(terminal + 1, &ready, NULL, NULL, NULL) < 0)
            return 3;
        if (FD_ISSET(terminal, &ready))
            serve(device);
        if (FD_ISSET(STDIN_FILENO, &ready)) {
            /* byte by byte, so that select never waits on what stdio holds */
            if (read(STDIN_FILENO, line + have, 1) != 1)
                return 0;
            if (line[have] == '\n') {
                line[have] = '\0';
                obey(line);
                have = 0;
            } else if (have < sizeof line - 2) {
                have++;
            }
        }
    }
}
