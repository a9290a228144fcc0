import { createPageWorkshop, type PageJob } from "../page/page-job.js";
import { answerJobs } from "./answer-jobs.js";

const workshop = createPageWorkshop();
answerJobs((job: PageJob) => workshop.run(job));
