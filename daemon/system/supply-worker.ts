import { createSupplyWorkshop, type SupplyJob } from "../supply/supply-job.js";
import { answerJobs } from "./answer-jobs.js";

const workshop = createSupplyWorkshop();
answerJobs((job: SupplyJob) => workshop.run(job));
