/* wasm/wasm.c: the exports. The only data that can be written lies here: the module is one core. */
#include "wasm/wasm.h"

#include <string.h>

#include "answer/core.h"
#include "logbook/chain.h"
#include "logbook/compose.h"
#include "logbook/identity.h"
#include "tubwright/tubwright.h"

#define PAGE_BYTES 65536u
#define PROGRAM_BYTES 32u

/* The core lies behind the module's own data: nobody else makes memory grow, so that its pages follow each other. */
static struct {
    uint8_t *bytes;
    size_t n;
    size_t entries, text; /* what it has room for */
} memory = {NULL, 0, TW_WASM_ENTRIES, TW_WASM_TEXT};
static uint8_t buffer[TW_WASM_BUFFER];
static char answer[TW_WASM_ANSWER];
static uint8_t kept[TW_WASM_KEPT];
static uint8_t pack[TW_WASM_PACK];
static uint32_t length;
static tw_core *core;

#define STACK_BYTES 65536u /* of a hand: a run of eight members takes a fourth of it */
static struct {
    tw_crew crew;           /* hands 0: there is none                                             */
    uint8_t *stack;         /* of the first other hand                                            */
    void (*job)(void *arg, size_t hand, size_t part);
    void *arg;
    uint32_t ticket;        /* turn << 8 | parts that nobody took: who lowers it takes the last of them */
    uint32_t left;          /* parts that are not done                                            */
} hands;

/* Memory of n bytes at least: 1 when it is there. */
static int grow(size_t n)
{
    if (n <= memory.n)
        return 1;
    const size_t pages = (n - memory.n + PAGE_BYTES - 1) / PAGE_BYTES;
    const size_t before = __builtin_wasm_memory_grow(0, pages);
    if (before == SIZE_MAX)
        return 0;
    if (memory.bytes == NULL)
        memory.bytes = (uint8_t *)(before * PAGE_BYTES);
    memory.n += pages * PAGE_BYTES;
    return 1;
}

int32_t tw_wasm_reset(void)
{
    length = 0;
    core = NULL;
    if (!grow(tw_core_bytes(memory.entries, memory.text)))
        return (int32_t)TW_ERR_CAPACITY;
    const int status = tw_core_init(memory.bytes, memory.n, memory.entries, memory.text, &core);
    if (status == 0 && hands.crew.hands > 1)
        core->crew = &hands.crew;
    return (int32_t)status;
}

int32_t tw_wasm_room(uint32_t entries, uint32_t text)
{
    if (text <= TW_WASM_TEXT_MOST && entries <= text && grow(tw_core_bytes(entries, text))) {
        memory.entries = entries;
        memory.text = text;
        return tw_wasm_reset();
    }
    const int32_t trouble = tw_wasm_reset();
    return trouble != 0 ? trouble : (int32_t)TW_ERR_CAPACITY;
}

/* Take and do parts until nobody has one to give. The turn in the ticket keeps a hand that slept from taking a part of another
 * turn; job and arg stay while a part of theirs is not done. */
static void do_parts(size_t hand)
{
    uint32_t ticket = __atomic_load_n(&hands.ticket, __ATOMIC_SEQ_CST);
    while ((ticket & 0xff) != 0) {
        if (!__atomic_compare_exchange_n(&hands.ticket, &ticket, ticket - 1, 0, __ATOMIC_SEQ_CST, __ATOMIC_SEQ_CST))
            continue;
        hands.job(hands.arg, hand, (ticket & 0xff) - 1);
        if (__atomic_sub_fetch(&hands.left, 1, __ATOMIC_SEQ_CST) == 0)
            (void)__builtin_wasm_memory_atomic_notify((int *)&hands.left, 1);
        ticket = __atomic_load_n(&hands.ticket, __ATOMIC_SEQ_CST);
    }
}

/* Whoever waits looks about for a while before it sleeps: the next work mostly comes sooner than a sleeper wakes. Until a number is
 * this one, or no longer this one. */
#define LOOKS 20000
static void look_about(const uint32_t *number, uint32_t this, int until)
{
    for (int i = 0; i < LOOKS && (__atomic_load_n(number, __ATOMIC_SEQ_CST) == this) != until; i++)
        ;
}

static void share_out(tw_crew *crew, void (*job)(void *arg, size_t hand, size_t part), void *arg, size_t parts)
{
    uint32_t left = (uint32_t)parts;
    hands.job = job;
    hands.arg = arg;
    __atomic_store_n(&hands.left, left, __ATOMIC_SEQ_CST);
    __atomic_store_n(&hands.ticket, (hands.ticket & ~0xffu) + 0x100u + left, __ATOMIC_SEQ_CST);
    (void)__builtin_wasm_memory_atomic_notify((int *)&hands.ticket, (uint32_t)crew->hands);
    do_parts(0);
    look_about(&hands.left, 0, 1);
    while ((left = __atomic_load_n(&hands.left, __ATOMIC_SEQ_CST)) != 0)
        (void)__builtin_wasm_memory_atomic_wait32((int *)&hands.left, (int)left, -1);
}

int32_t tw_wasm_hands(uint32_t n)
{
    const size_t others = n - 1, bytes = tw_estimate_crew_bytes(n);
    if (n < 1 || n > TW_WASM_HANDS || memory.bytes != NULL || hands.stack != NULL)
        return (int32_t)TW_ERR_RANGE;
    const size_t before = __builtin_wasm_memory_grow(0, (others * STACK_BYTES + bytes + PAGE_BYTES - 1) / PAGE_BYTES);
    if (before == SIZE_MAX)
        return (int32_t)TW_ERR_CAPACITY;
    hands.stack = (uint8_t *)(before * PAGE_BYTES);
    hands.crew = (tw_crew){share_out, n, hands.stack + others * STACK_BYTES, bytes};
    return 0;
}

uint32_t tw_wasm_stack(uint32_t hand)
{
    return (uint32_t)(uintptr_t)hands.stack + hand * STACK_BYTES;
}

void tw_wasm_help(uint32_t hand)
{
    for (;;) {
        do_parts(hand);
        const uint32_t ticket = __atomic_load_n(&hands.ticket, __ATOMIC_SEQ_CST);
        if ((ticket & 0xff) != 0)
            continue;
        look_about(&hands.ticket, ticket, 0);
        if (__atomic_load_n(&hands.ticket, __ATOMIC_SEQ_CST) == ticket)
            (void)__builtin_wasm_memory_atomic_wait32((int *)&hands.ticket, (int)ticket, -1);
    }
}

/* No answer yet, n bytes in the buffer, a core that is there: 0, or a status. */
static int32_t begin(uint32_t n)
{
    length = 0;
    if (n > sizeof buffer)
        return (int32_t)TW_ERR_CAPACITY;
    return core == NULL ? tw_wasm_reset() : 0;
}

uint8_t *tw_wasm_buffer(uint32_t n)
{
    return n <= sizeof buffer ? buffer : (uint8_t *)0;
}

int32_t tw_wasm_add_line(uint32_t n)
{
    const int32_t trouble = begin(n);
    if (trouble != 0)
        return trouble;
    const int status = tw_core_add_line(core, (const char *)buffer, n, answer, sizeof answer);
    length = (uint32_t)strlen(answer);
    return (int32_t)status;
}

/* A refusal as three texts with a zero between them. */
static int32_t refuse(tw_status status, const tw_fault *fault)
{
    length = (uint32_t)tw_logbook_fault_text(fault, tw_answer_language(core), answer, sizeof answer);
    const char *const more[] = {fault->field, fault->value};
    for (int i = 0; i < 2; i++) {
        const size_t n = strlen(more[i]);
        answer[length++] = '\0';
        memcpy(answer + length, more[i], n);
        length += (uint32_t)n;
    }
    return (int32_t)status;
}

/* The next text of the buffer up to a zero, or to the end of its n bytes. */
static tw_text next_text(uint32_t n, uint32_t *at)
{
    const char *const bytes = (const char *)buffer;
    const uint32_t begin = *at;
    uint32_t end = begin;
    while (end < n && bytes[end] != '\0')
        end++;
    *at = end < n ? end + 1 : end;
    return (tw_text){bytes + begin, end - begin};
}

int32_t tw_wasm_draft(uint32_t n)
{
    tw_typed typed[TW_ENTRY_FIELDS + 1];
    size_t fields = 0;
    size_t bytes = 0;
    tw_fault fault;
    memset(&fault, 0, sizeof fault);
    const int32_t trouble = begin(n);
    if (trouble != 0)
        return trouble;
    for (uint32_t at = 0; at < n && fields <= TW_ENTRY_FIELDS; fields++) {
        typed[fields].field = next_text(n, &at);
        typed[fields].value = next_text(n, &at);
    }
    const tw_status status = tw_logbook_compose(typed, fields, TW_CHECK_DRAFT, answer, sizeof answer, &bytes, &fault);
    length = (uint32_t)bytes;
    return status == TW_OK ? 0 : refuse(status, &fault);
}

int32_t tw_wasm_chain(uint32_t n)
{
    uint32_t at = 0;
    uint32_t number = 0;
    uint8_t prev[TW_SHA256_BYTES];
    size_t bytes = 0;
    tw_fault fault;
    memset(&fault, 0, sizeof fault);
    const int32_t trouble = begin(n);
    if (trouble != 0)
        return trouble;
    const tw_text writer = next_text(n, &at);
    const tw_text draft = {(const char *)buffer + at, n - at};
    tw_logbook_chain_last(core->book, writer, &number, prev);
    const tw_status status = tw_logbook_compose_chained(draft, writer, number + 1, number > 0 ? prev : NULL, answer, sizeof answer, &bytes, &fault);
    length = (uint32_t)bytes;
    return status == TW_OK ? 0 : refuse(status, &fault);
}

int32_t tw_wasm_id(double unix_ms)
{
    tw_logbook_id_v7((uint64_t)unix_ms, buffer, answer);
    length = TW_ID_CHARS;
    return 0;
}

int32_t tw_wasm_seal(void)
{
    uint8_t seal[TW_SHA256_BYTES];
    const int32_t trouble = begin(0);
    if (trouble != 0)
        return trouble;
    tw_logbook_chain_seal(core->book, seal);
    tw_sha256_hex(seal, answer);
    length = TW_SHA256_HEX - 1;
    return 0;
}

int32_t tw_wasm_keep(void)
{
    size_t bytes = 0;
    length = 0;
    if (core == NULL)
        return (int32_t)TW_ERR_MISSING;
    const int status = tw_core_keep(core, buffer, answer, sizeof answer, &bytes);
    length = (uint32_t)bytes;
    return (int32_t)status;
}

int32_t tw_wasm_kept(uint32_t n)
{
    const int32_t trouble = begin(n);
    if (trouble != 0)
        return trouble;
    if (n < PROGRAM_BYTES || n - PROGRAM_BYTES > sizeof kept)
        return (int32_t)TW_ERR_CAPACITY;
    memcpy(kept, buffer + PROGRAM_BYTES, n - PROGRAM_BYTES);
    tw_core_kept(core, buffer, kept, n - PROGRAM_BYTES);
    return 0;
}

int32_t tw_wasm_language(uint32_t n)
{
    const int32_t trouble = begin(n);
    if (trouble != 0)
        return trouble;
    if (n > sizeof pack)
        return (int32_t)TW_ERR_CAPACITY;
    memcpy(pack, buffer, n);
    const int status = tw_core_language(core, pack, n, answer, sizeof answer);
    length = (uint32_t)strlen(answer);
    return (int32_t)status;
}

int32_t tw_wasm_ask(uint32_t n)
{
    size_t bytes = 0;
    const int32_t trouble = begin(n);
    if (trouble != 0)
        return trouble;
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
