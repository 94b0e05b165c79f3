/* A plugin in C: looks at how heavy the blade is, and whether it was weighed in a way that can be
 * done again. Written from the page on the plugin ABI. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scan.h"

typedef struct {
    uint8_t *data;
    size_t length;
} tangmark_buffer_1;

int32_t tangmark_describe_1(const uint8_t *request, size_t length, tangmark_buffer_1 *answer);
int32_t tangmark_check_1(const uint8_t *request, size_t length, tangmark_buffer_1 *answer);
void tangmark_release_1(tangmark_buffer_1 *answer);

enum { ANSWERED = 0, REFUSED = 1, BROKEN = 2 };

/* Heaviest bare blade that is not remarked on, in grams, when the user sets nothing. */
#define HEAVY_G 1000.0
/* What the setting may be. */
#define LEAST_HEAVY_G 50.0
#define MOST_HEAVY_G 5000.0

/* Longest reply that is made, in bytes; the parts below are bounded, so that it always fits. */
#define ROOM 4096

/* Longest decimal and unit that the page allows. */
#define DECIMAL 40
#define UNIT 32

#define SOURCE "common practice, no source"

static const char DESCRIPTION[] =
    "{\"abi\":1,\"features\":[\"invented-0ddba11a\"],\"name\":\"heft\",\"rules\":["
    "{\"id\":\"heft.heavy\",\"source\":\"" SOURCE "\","
    "\"title\":\"Heavier than a bare blade should be\"},"
    "{\"id\":\"heft.instrument\",\"source\":\"" SOURCE "\","
    "\"title\":\"Mass without an instrument\"},"
    "{\"id\":\"heft.mass\",\"source\":\"" SOURCE "\",\"title\":\"How heavy the blade is\"},"
    "{\"id\":\"heft.missing\",\"source\":\"" SOURCE "\",\"title\":\"No mass\"}],"
    "\"title\":\"How heavy the blade is, and whether that can be weighed again\","
    "\"version\":\"1.0.0\"}";

static int32_t answer_with(tangmark_buffer_1 *answer, int32_t status, const char *text)
{
    size_t length = strlen(text);
    uint8_t *bytes = malloc(length);
    if (bytes == NULL) {
        return BROKEN;
    }
    memcpy(bytes, text, length);
    answer->data = bytes;
    answer->length = length;
    return status;
}

/* A reply on its way. */
typedef struct {
    char text[ROOM];
    size_t length;
    int findings;
    bool full;
} reply;

static void add(reply *to, const char *format, ...)
{
    va_list values;
    int count;
    va_start(values, format);
    count = vsnprintf(to->text + to->length, ROOM - to->length, format, values);
    va_end(values);
    if (count < 0 || (size_t)count >= ROOM - to->length) {
        to->full = true;
    } else {
        to->length += (size_t)count;
    }
}

/* What the sheet says about the mass. */
typedef struct {
    char value[DECIMAL + 1];
    char uncertainty[DECIMAL + 1]; /* standard uncertainty, k = 1 */
    double grams;
    double expanded; /* k = 2 */
    bool instrument;
} mass;

/* Adds a finding. Keys are in the order that canonical JSON asks for. */
static void find(reply *to, const char *rule, const char *level, const char *evidence,
                 const mass *weighed, const char *format, ...)
{
    char message[400];
    va_list values;
    va_start(values, format);
    vsnprintf(message, sizeof message, format, values);
    va_end(values);
    add(to, "%s{\"evidence\":[\"%s\"],\"level\":\"%s\",\"message\":\"%s\",\"numbers\":[",
        to->findings > 0 ? "," : "", evidence, level, message);
    if (weighed != NULL) {
        add(to, "{\"name\":\"mass\",\"standard_uncertainty\":\"%s\",\"unit\":\"g\",\"value\":\"%s\"}",
            weighed->uncertainty, weighed->value);
    }
    add(to, "],\"rule\":\"%s\",\"source\":\"" SOURCE "\"}", rule);
    to->findings++;
}

/* Reads the mass. Returns NULL, or why it cannot be judged. */
static const char *read_mass(scan_bytes quantity, mass *weighed)
{
    scan_bytes part;
    char unit[UNIT + 1];
    if (scan_member(quantity, "unit", &part) != SCAN_FOUND || !scan_text(part, unit, sizeof unit)
        || strcmp(unit, "g") != 0) {
        return "the mass in the sheet is not in g";
    }
    if (scan_member(quantity, "value", &part) != SCAN_FOUND
        || !scan_text(part, weighed->value, sizeof weighed->value)
        || !scan_decimal(weighed->value, &weighed->grams)) {
        return "the mass in the sheet has no value that is a decimal";
    }
    if (scan_member(quantity, "standard_uncertainty", &part) != SCAN_FOUND
        || !scan_text(part, weighed->uncertainty, sizeof weighed->uncertainty)
        || !scan_decimal(weighed->uncertainty, &weighed->expanded) || weighed->expanded < 0.0) {
        return "the mass in the sheet has no standard uncertainty that is a decimal";
    }
    weighed->expanded *= 2.0;
    weighed->instrument = scan_member(quantity, "instrument", &part) == SCAN_FOUND;
    return NULL;
}

static void judge(reply *to, const mass *weighed, double heavy)
{
    const char *at = "/dimensions/mass";
    if (!weighed->instrument) {
        find(to, "heft.instrument", "caution", at, weighed,
             "The mass of %s g stands in the sheet without the scale it was read on: nobody can "
             "weigh the blade again in the same way. Name the scale in the sheet, or weigh again.",
             weighed->value);
    }
    /* Two standard uncertainties above the limit, so that the scale alone cannot bring it about. */
    if (weighed->grams - weighed->expanded > heavy) {
        find(to, "heft.heavy", "caution", at, weighed,
             "%s g ± %.3g g (k = 2) is more than the %.6g g set for a bare blade. See whether "
             "fittings, a rest or a wrapping lay on the scale, and weigh again.",
             weighed->value, weighed->expanded, heavy);
    }
    find(to, "heft.mass", "info", at, weighed, "The blade weighs %s g ± %.3g g (k = 2).",
         weighed->value, weighed->expanded);
}

int32_t tangmark_describe_1(const uint8_t *request, size_t length, tangmark_buffer_1 *answer)
{
    (void)request;
    (void)length;
    return answer_with(answer, ANSWERED, DESCRIPTION);
}

int32_t tangmark_check_1(const uint8_t *request, size_t length, tangmark_buffer_1 *answer)
{
    static const char *const TO_MASS[] = {"sheet", "dimensions", "mass", NULL};
    static const char *const TO_DIMENSIONS[] = {"sheet", "dimensions", NULL};
    static const char *const TO_SETTING[] = {"settings", "heavy_g", NULL};
    scan_bytes json = {request, request + length};
    scan_bytes found;
    reply made = {.length = 0};
    double heavy = HEAVY_G;

    if (!scan_is_one_value(json)) {
        return answer_with(answer, REFUSED, "the request is not JSON that this plugin can follow");
    }
    if (scan_path(json, TO_SETTING, &found) == SCAN_FOUND
        && (!scan_number(found, &heavy) || !(heavy >= LEAST_HEAVY_G && heavy <= MOST_HEAVY_G))) {
        return answer_with(answer, REFUSED,
                           "the setting `heavy_g` is not a number of grams from 50 to 5000");
    }
    add(&made, "{\"artefacts\":[],\"findings\":[");
    if (scan_path(json, TO_MASS, &found) == SCAN_FOUND) {
        mass weighed;
        const char *fault = read_mass(found, &weighed);
        if (fault != NULL) {
            return answer_with(answer, REFUSED, fault);
        }
        judge(&made, &weighed, heavy);
    } else {
        /* Evidence must be there: the nearest part that is. */
        const char *nearest =
            scan_path(json, TO_DIMENSIONS, &found) == SCAN_FOUND ? "/dimensions" : "";
        find(&made, "heft.missing", "info", nearest, NULL,
             "The sheet has no mass. Weigh the bare blade before work begins: what the stones take "
             "can only be told from two weighings on the same scale.");
    }
    add(&made, "],\"quantities\":[]}");
    if (made.full) {
        return answer_with(answer, BROKEN, "the reply does not fit the room kept for it");
    }
    return answer_with(answer, ANSWERED, made.text);
}

void tangmark_release_1(tangmark_buffer_1 *answer)
{
    free(answer->data);
    answer->data = NULL;
    answer->length = 0;
}
