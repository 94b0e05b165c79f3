/* A small reader of JSON for one plugin: it finds members, reads short texts and decimals, and
 * never looks past the end of the bytes it was given. It does not build a tree. */
#ifndef HEFT_SCAN_H
#define HEFT_SCAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Bytes of somebody else's: from `at` up to, but not including, `end`. */
typedef struct {
    const uint8_t *at;
    const uint8_t *end;
} scan_bytes;

/* What looking for something came to. */
typedef enum {
    SCAN_FOUND,
    SCAN_ABSENT, /* sound JSON, but there is no such member */
    SCAN_BAD     /* not JSON, or nested deeper than SCAN_DEPTH */
} scan_result;

/* Deepest nesting that is followed. A sheet needs far less. */
#define SCAN_DEPTH 64

/* Tells whether the bytes are one JSON value and nothing else. */
bool scan_is_one_value(scan_bytes json);

/* Finds the member `name` of an object; `value` becomes the bytes of its value. A value that is no
 * object has no members. `name` is plain ASCII: names with escapes do not match. */
scan_result scan_member(scan_bytes object, const char *name, scan_bytes *value);

/* As scan_member, along several names that end with NULL. */
scan_result scan_path(scan_bytes object, const char *const *names, scan_bytes *value);

/* Copies a text without escapes into `room`, which has `size` bytes, and ends it with 0. Tells
 * false for anything else than a text, one with escapes, and one that does not fit. */
bool scan_text(scan_bytes value, char *room, size_t size);

/* Reads a decimal as the page on the ABI writes it, from a text ending with 0. Tells false for
 * anything else, also for an exponent. */
bool scan_decimal(const char *text, double *number);

/* Reads a setting that is a JSON number, or a text that is a decimal. */
bool scan_number(scan_bytes value, double *number);

#endif
