/* Throws changed requests at the plugin: for builds with -fsanitize=address,undefined.
 *
 *     mutate REQUEST.json COUNT SEED
 *
 * Each request lies in memory of just its size, so that reading one byte too far is seen. Prints
 * how often each status came back. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    uint8_t *data;
    size_t length;
} tangmark_buffer_1;

int32_t tangmark_describe_1(const uint8_t *request, size_t length, tangmark_buffer_1 *answer);
int32_t tangmark_check_1(const uint8_t *request, size_t length, tangmark_buffer_1 *answer);
void tangmark_release_1(tangmark_buffer_1 *answer);

static uint64_t state;

/* SplitMix64: the same numbers from the same seed everywhere (from memory). */
static uint64_t next(void)
{
    uint64_t mixed = (state += 0x9e3779b97f4a7c15u);
    mixed = (mixed ^ (mixed >> 30)) * 0xbf58476d1ce4e5b9u;
    mixed = (mixed ^ (mixed >> 27)) * 0x94d049bb133111ebu;
    return mixed ^ (mixed >> 31);
}

static size_t below(size_t bound)
{
    return bound == 0 ? 0 : (size_t)(next() % bound);
}

/* Changes the bytes in one way; `room` has space for one byte more than `length`. */
static size_t change(uint8_t *room, size_t length)
{
    static const char TELLING[] = "{}[]\",:\\0123456789.-eE tfn\x7f\xff";
    size_t at = below(length), span = below(40);
    if (length == 0) {
        return 0;
    }
    if (span > length - at) {
        span = length - at;
    }
    switch (below(6)) {
    case 0: /* one bit */
        room[at] ^= (uint8_t)(1u << below(8));
        return length;
    case 1: /* one telling byte in place of another */
        room[at] = (uint8_t)TELLING[below(sizeof TELLING)];
        return length;
    case 2: /* one telling byte more */
        memmove(room + at + 1, room + at, length - at);
        room[at] = (uint8_t)TELLING[below(sizeof TELLING)];
        return length + 1;
    case 3: /* a span less */
        memmove(room + at, room + at + span, length - at - span);
        return length - span;
    case 4: /* cut off */
        return at;
    default: { /* a span copied over another */
        size_t from = below(length - span + 1);
        memmove(room + at, room + from, span);
        return length;
    }
    }
}

int main(int count, char **words)
{
    enum { LARGEST = 1 << 20, MOST_CHANGES = 4 };
    static uint8_t request[LARGEST], room[LARGEST + MOST_CHANGES];
    long statuses[3] = {0, 0, 0}, number, trials;
    size_t length;
    FILE *file;
    if (count != 4 || (file = fopen(words[1], "rb")) == NULL) {
        fprintf(stderr, "usage: mutate REQUEST.json COUNT SEED\n");
        return 4;
    }
    length = fread(request, 1, LARGEST, file);
    fclose(file);
    trials = strtol(words[2], NULL, 10);
    state = strtoull(words[3], NULL, 10);
    for (number = 0; number <= trials; number++) {
        size_t changed = length, changes = number == 0 ? 0 : 1 + below(MOST_CHANGES);
        tangmark_buffer_1 answer = {NULL, 0};
        uint8_t *exact;
        int32_t status;
        memcpy(room, request, length);
        for (; changes > 0; changes--) {
            changed = change(room, changed);
        }
        exact = malloc(changed == 0 ? 1 : changed);
        if (exact == NULL) {
            return 2;
        }
        memcpy(exact, room, changed);
        status = number % 2 == 0 ? tangmark_check_1(exact, changed, &answer)
                                 : tangmark_describe_1(exact, changed, &answer);
        if (number % 2 == 1) {
            tangmark_release_1(&answer);
            status = tangmark_check_1(exact, changed, &answer);
        }
        if (status < 0 || status > 2 || answer.length == 0 || answer.data == NULL) {
            fprintf(stderr, "trial %ld: status %d with %zu bytes\n", number, status, answer.length);
            return 1;
        }
        statuses[status]++;
        tangmark_release_1(&answer);
        free(exact);
    }
    printf("answered %ld, refused %ld, broken %ld\n", statuses[0], statuses[1], statuses[2]);
    return 0;
}
