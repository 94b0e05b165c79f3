#include "scan.h"

#include <stdlib.h>
#include <string.h>

/* Longest number that is read, in bytes. */
#define LONGEST_NUMBER 40

static bool has(const scan_bytes *rest)
{
    return rest->at < rest->end;
}

static void skip_blanks(scan_bytes *rest)
{
    while (has(rest)
           && (*rest->at == ' ' || *rest->at == '\t' || *rest->at == '\n' || *rest->at == '\r')) {
        rest->at++;
    }
}

static bool take(scan_bytes *rest, uint8_t byte)
{
    if (!has(rest) || *rest->at != byte) {
        return false;
    }
    rest->at++;
    return true;
}

static bool take_word(scan_bytes *rest, const char *word)
{
    size_t length = strlen(word);
    if ((size_t)(rest->end - rest->at) < length || memcmp(rest->at, word, length) != 0) {
        return false;
    }
    rest->at += length;
    return true;
}

static bool is_digit(uint8_t byte)
{
    return byte >= '0' && byte <= '9';
}

static bool is_hexadecimal(uint8_t byte)
{
    return is_digit(byte) || (byte >= 'a' && byte <= 'f') || (byte >= 'A' && byte <= 'F');
}

static bool skip_text(scan_bytes *rest)
{
    if (!take(rest, '"')) {
        return false;
    }
    while (has(rest)) {
        uint8_t byte = *rest->at++;
        if (byte == '"') {
            return true;
        }
        if (byte < 0x20) {
            return false;
        }
        if (byte == '\\') {
            if (!has(rest)) {
                return false;
            }
            byte = *rest->at++;
            if (byte == 'u') {
                int digit;
                for (digit = 0; digit < 4; digit++) {
                    if (!has(rest) || !is_hexadecimal(*rest->at++)) {
                        return false;
                    }
                }
            } else if (memchr("\"\\/bfnrt", byte, 8) == NULL) {
                return false;
            }
        }
    }
    return false;
}

static bool skip_digits(scan_bytes *rest)
{
    const uint8_t *start = rest->at;
    while (has(rest) && is_digit(*rest->at)) {
        rest->at++;
    }
    return rest->at > start;
}

static bool skip_number(scan_bytes *rest)
{
    (void)take(rest, '-');
    if (!take(rest, '0') && !skip_digits(rest)) {
        return false;
    }
    if (take(rest, '.') && !skip_digits(rest)) {
        return false;
    }
    if (take(rest, 'e') || take(rest, 'E')) {
        if (!take(rest, '+')) {
            (void)take(rest, '-');
        }
        return skip_digits(rest);
    }
    return true;
}

static bool skip_value(scan_bytes *rest, int depth);

/* Skips what stands between brackets; `closing` tells which kind it is. */
static bool skip_inside(scan_bytes *rest, uint8_t closing, int depth)
{
    skip_blanks(rest);
    if (take(rest, closing)) {
        return true;
    }
    do {
        skip_blanks(rest);
        if (closing == '}') {
            if (!skip_text(rest)) {
                return false;
            }
            skip_blanks(rest);
            if (!take(rest, ':')) {
                return false;
            }
        }
        if (!skip_value(rest, depth)) {
            return false;
        }
        skip_blanks(rest);
    } while (take(rest, ','));
    return take(rest, closing);
}

static bool skip_value(scan_bytes *rest, int depth)
{
    skip_blanks(rest);
    if (!has(rest) || depth > SCAN_DEPTH) {
        return false;
    }
    switch (*rest->at) {
    case '{':
        rest->at++;
        return skip_inside(rest, '}', depth + 1);
    case '[':
        rest->at++;
        return skip_inside(rest, ']', depth + 1);
    case '"':
        return skip_text(rest);
    case 't':
        return take_word(rest, "true");
    case 'f':
        return take_word(rest, "false");
    case 'n':
        return take_word(rest, "null");
    default:
        return skip_number(rest);
    }
}

bool scan_is_one_value(scan_bytes json)
{
    if (!skip_value(&json, 0)) {
        return false;
    }
    skip_blanks(&json);
    return json.at == json.end;
}

scan_result scan_member(scan_bytes object, const char *name, scan_bytes *value)
{
    size_t length = strlen(name);
    skip_blanks(&object);
    if (!take(&object, '{')) {
        return SCAN_ABSENT;
    }
    skip_blanks(&object);
    if (take(&object, '}')) {
        return SCAN_ABSENT;
    }
    do {
        const uint8_t *key;
        size_t key_length;
        bool wanted;
        skip_blanks(&object);
        key = object.at;
        if (!skip_text(&object)) {
            return SCAN_BAD;
        }
        key_length = (size_t)(object.at - key) - 2; /* without the two quotation marks */
        wanted = key_length == length && memcmp(key + 1, name, length) == 0;
        skip_blanks(&object);
        if (!take(&object, ':')) {
            return SCAN_BAD;
        }
        skip_blanks(&object);
        value->at = object.at;
        if (!skip_value(&object, 0)) {
            return SCAN_BAD;
        }
        value->end = object.at;
        if (wanted) {
            return SCAN_FOUND;
        }
        skip_blanks(&object);
    } while (take(&object, ','));
    return take(&object, '}') ? SCAN_ABSENT : SCAN_BAD;
}

scan_result scan_path(scan_bytes object, const char *const *names, scan_bytes *value)
{
    *value = object;
    for (; *names != NULL; names++) {
        scan_result result = scan_member(*value, *names, value);
        if (result != SCAN_FOUND) {
            return result;
        }
    }
    return SCAN_FOUND;
}

bool scan_text(scan_bytes value, char *room, size_t size)
{
    size_t length;
    scan_bytes rest = value;
    if (!skip_text(&rest) || rest.at != value.end) {
        return false;
    }
    length = (size_t)(value.end - value.at) - 2;
    if (length >= size || memchr(value.at + 1, '\\', length) != NULL) {
        return false;
    }
    memcpy(room, value.at + 1, length);
    room[length] = '\0';
    return true;
}

bool scan_decimal(const char *text, double *number)
{
    scan_bytes rest = {(const uint8_t *)text, (const uint8_t *)text + strlen(text)};
    if (strlen(text) > LONGEST_NUMBER || strpbrk(text, "eE") != NULL || !skip_number(&rest)
        || has(&rest)) {
        return false;
    }
    /* The library is never told of a locale, so that the full stop is the full stop. */
    *number = strtod(text, NULL);
    return true;
}

bool scan_number(scan_bytes value, double *number)
{
    char text[LONGEST_NUMBER + 1];
    scan_bytes rest = value;
    if (scan_text(value, text, sizeof text)) {
        return scan_decimal(text, number);
    }
    if (!skip_number(&rest) || rest.at != value.end
        || (size_t)(value.end - value.at) > LONGEST_NUMBER) {
        return false;
    }
    memcpy(text, value.at, (size_t)(value.end - value.at));
    text[value.end - value.at] = '\0';
    *number = strtod(text, NULL);
    return true;
}
