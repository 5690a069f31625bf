/* wasm/wasm.c: the exports. The only data that can be written lies here: the module is one core. */
#include "wasm/wasm.h"

#include <string.h>

#include "tubwright/tubwright.h"

#define CORE_BYTES (96u << 20) /* zeros take no room in the file */

static struct {
    double aligned;
    uint8_t bytes[CORE_BYTES];
} memory;
static uint8_t buffer[TW_WASM_BUFFER];
static char answer[TW_WASM_ANSWER];
static uint32_t length;
static tw_core *core;

int32_t tw_wasm_reset(void)
{
    length = 0;
    core = NULL;
    return (int32_t)tw_core_init(memory.bytes, sizeof memory.bytes, TW_WASM_ENTRIES, TW_WASM_TEXT, &core);
}

uint8_t *tw_wasm_buffer(uint32_t n)
{
    return n <= sizeof buffer ? buffer : (uint8_t *)0;
}

int32_t tw_wasm_add_line(uint32_t n)
{
    length = 0;
    if (core == NULL && tw_wasm_reset() != 0)
        return -1;
    if (n > sizeof buffer)
        return -1;
    const int status = tw_core_add_line(core, (const char *)buffer, n, answer, sizeof answer);
    length = (uint32_t)strlen(answer);
    return (int32_t)status;
}

int32_t tw_wasm_ask(uint32_t n)
{
    size_t bytes = 0;
    length = 0;
    if (core == NULL && tw_wasm_reset() != 0)
        return -1;
    if (n > sizeof buffer)
        return -1;
    const int status = tw_core_ask(core, (const char *)buffer, n, answer, sizeof answer, &bytes);
    length = (uint32_t)bytes;
    return (int32_t)status;
}

const uint8_t *tw_wasm_answer(void)
{
    return (const uint8_t *)answer;
}

uint32_t tw_wasm_length(void)
{
    return length;
}

int32_t tw_wasm_outcome(void)
{
    return core == NULL ? 0 : (int32_t)tw_core_outcome(core);
}
