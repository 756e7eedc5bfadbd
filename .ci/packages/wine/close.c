/* Starts a program, and after some seconds tells it that its window is closed, or that Ctrl-Break was pressed:
 *     close.exe SECONDS close|break PROGRAM [ARGUMENT...]
 * as Windows does: a thread within the program calls what it has registered for that. When this has answered to the
 * closing, Windows ends the program at once, and after five seconds in any case. (Wine, when a console's window is closed,
 * ends the programs in it and tells them nothing; hence this.)
 * Says when it did so, how long the program took to end, who ended it, and with which status; 1 if it went on. */
#include <windows.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Microsoft, "HandlerRoutine callback function", Timeouts; from memory. */
#define PATIENCE 5000

int main(int count, char **words) {
    STARTUPINFOW start = { .cb = sizeof start };
    PROCESS_INFORMATION program;
    DWORD began, status, which;
    HANDLE ends[2];
    WCHAR *line = GetCommandLineW();
    const char *who = "itself";
    /* What is called there, with the event: it stands at the same place in every program. */
    LPTHREAD_START_ROUTINE tell = (LPTHREAD_START_ROUTINE)(void *)
        GetProcAddress(GetModuleHandleA("kernelbase.dll"), "CtrlRoutine");
    BOOL close;
    if (count < 4) return 2;
    close = !strcmp(words[2], "close");
    /* The rest of the line as it was given: behind this program's own name, which may be quoted, and two words. */
    if (*line == '"') line = wcschr(line + 1, '"') + 1;
    for (int behind = 0; behind < 3; behind++) {
        while (*line && *line != ' ') line++;
        while (*line == ' ') line++;
    }
    if (!tell || !CreateProcessW(NULL, line, NULL, NULL, TRUE, 0, NULL, NULL, &start, &program)) {
        printf("not started: %lu\n", GetLastError());
        return 2;
    }
    ends[0] = program.hProcess;
    if (WaitForSingleObject(ends[0], atoi(words[1]) * 1000) == WAIT_OBJECT_0) {
        GetExitCodeProcess(ends[0], &status);
        printf("ended by itself before, with %lu\n", status);
        return 2;
    }
    began = GetTickCount();
    ends[1] = CreateRemoteThread(ends[0], NULL, 0, tell,
        (void *)(DWORD_PTR)(close ? CTRL_CLOSE_EVENT : CTRL_BREAK_EVENT), 0, NULL);
    if (!ends[1]) {
        printf("not told: %lu\n", GetLastError());
        TerminateProcess(ends[0], 9);
        return 2;
    }
    which = WaitForMultipleObjects(close ? 2 : 1, ends, FALSE, PATIENCE);
    /* With 1 it has answered; with another, it went with the program, which ends in this moment. */
    if (which == WAIT_OBJECT_0 + 1 && GetExitCodeThread(ends[1], &status) && status != 1)
        which = WaitForSingleObject(ends[0], PATIENCE);
    if (which != WAIT_OBJECT_0) {
        who = which == WAIT_TIMEOUT ? "the end of patience" : "the answer";
        TerminateProcess(ends[0], 9);
        WaitForSingleObject(ends[0], PATIENCE);
    }
    GetExitCodeProcess(ends[0], &status);
    printf("%lu told to end, %lu ms until it was ended by %s, with %lu\n", began, GetTickCount() - began, who, status);
    return which != WAIT_OBJECT_0;
}
